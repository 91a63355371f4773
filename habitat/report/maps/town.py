"""The town and its plan: who takes part, what is planted where, which habitat is there already."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib import colormaps
from shapely import box

from habitat.report.maps.base import draw_base, draw_lines, draw_shapes, halo, town_bounds
from habitat.report.maps.labels import Label, place_labels
from habitat.report.maps.style import INK, QUIET, Sheet
from habitat.report.plan import Plan
from habitat.report.words.numbers import money
from habitat.report.words.text import counted, plain
from habitat.terms import CANDIDATE, MEMBER

VIRIDIS = colormaps["viridis"]
ROLE_LOOK = {
    MEMBER: ("members' yards", VIRIDIS(0.35), None),
    CANDIDATE: ("yards that could join", VIRIDIS(0.85), "////"),
}


def draw_town(plan: Plan, folder: Path) -> list[Path]:
    """Draw the map ``plan``: roles, beds, host plants that stand, existing habitat, trees."""
    counts = plan.headline["counts"]
    sheet = Sheet(
        plan,
        "The town and its plan",
        f"{counted(counts['plants'], 'plant')} of {counted(counts['plant_kinds'], 'kind')} in "
        f"{counted(counts['beds'], 'bed')}, {counted(counts['yards_with_plants'], 'yard')}"
        f"{', members and candidates together' if counts['candidates'] else ''}",
        town_bounds(plan),
    )
    ax = sheet.main_map()
    ground = draw_base(ax, plan)
    parts = [*draw_roles(ax, plan), *_planted(ax, plan)]
    label_anchors(ax, plan)
    left_out = label_yards(ax, plan)
    y = sheet.legend([("The plan", parts), ("The ground", [*ground, *_trees(ax, plan)])])
    sheet.notes([*_told(plan), _left_out(left_out)], y - 0.1)
    sheet.caption(f"layers of the study, analysis grid of {plan.layers.grid.cell_m:g} m")
    return sheet.save(folder, "plan")


def draw_roles(ax: Any, plan: Plan, alpha: float = 0.32) -> list[tuple[Any, str]]:
    """Tint yards by role and return legend entries for the roles that occur."""
    entries = []
    for role, (words, colour, hatch) in ROLE_LOOK.items():
        mine = plan.yards[plan.yards["role"] == role]
        if mine.empty:
            continue
        face = mpl.colors.to_rgba(colour, alpha)
        draw_shapes(ax, mine.geometry, facecolors=face, edgecolors="none", zorder=3.5)
        if hatch:
            look = {"facecolors": "none", "edgecolors": mpl.colors.to_rgba(INK, 0.35), "hatch": hatch}
            draw_shapes(ax, mine.geometry, linewidths=0.0, zorder=3.6, **look)
        draw_lines(ax, mine.geometry, colors=mpl.colors.to_rgba(INK, 0.6), linewidths=0.5, zorder=5.5)
        entries.append((mpl.patches.Patch(fc=face, ec=INK, hatch=hatch, lw=0.5), f"{words} ({len(mine)})"))
    return entries


def _planted(ax: Any, plan: Plan) -> list[tuple[Any, str]]:
    entries: list[tuple[Any, str]] = []
    if len(plan.beds):
        draw_shapes(ax, plan.beds.geometry, facecolors=INK, edgecolors=INK, linewidths=0.5, zorder=8)
        entries.append((mpl.patches.Patch(fc=INK, ec=INK), "beds of the plan"))
    old = plan.existing_plants
    hosts = old[old["butterflies"].fillna("") != ""] if len(old) else old
    if len(hosts):
        look: dict[str, Any] = {"marker": "D", "s": 9, "c": [VIRIDIS(0.62)], "edgecolors": INK}
        ax.scatter(hosts.geometry.x, hosts.geometry.y, linewidths=0.4, zorder=9, **look)
        mark = mpl.lines.Line2D([], [], marker="D", ms=4, mfc=VIRIDIS(0.62), mec=INK, mew=0.5, ls="none")
        entries.append((mark, "host plants that stand already"))
    return entries


def _trees(ax: Any, plan: Plan) -> list[tuple[Any, str]]:
    trees = plan.layers.frame("trees")
    if trees is None or trees.empty:
        return []
    crowns = trees.geometry.buffer(trees["crown_m"].fillna(4.0) / 2 if "crown_m" in trees else 2.0)
    draw_shapes(
        ax, crowns, facecolors="none", edgecolors=mpl.colors.to_rgba(QUIET, 0.55), linewidths=0.4, zorder=6
    )
    return [
        (
            mpl.lines.Line2D([], [], marker="o", ms=7, mfc="none", mec=QUIET, mew=0.6, ls="none"),
            "crowns of trees",
        )
    ]


def label_anchors(ax: Any, plan: Plan) -> None:
    """Write the names of existing habitat inside it."""
    anchors = plan.layers.frame("anchors")
    if anchors is None or "name" not in anchors:
        return
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    for shape, name in zip(anchors.geometry, anchors["name"], strict=True):
        seen = shape.intersection(box(west, south, east, north))
        if seen.is_empty:
            continue
        spot = seen.representative_point()
        look = {"style": "italic", "color": "#44523a", "ha": "center", "va": "center"}
        ax.text(spot.x, spot.y, plain(name, 32), size=8.5, zorder=26, path_effects=halo(), **look)


def label_yards(ax: Any, plan: Plan, yard_ids: set[str] | None = None) -> int:
    """Write the numbers of the yards that take part, or of some; return how many had no room."""
    mine = plan.yards[plan.yards["role"].isin(ROLE_LOOK)]
    if yard_ids is not None:
        mine = plan.yards[plan.yards["yard_id"].isin(yard_ids)]
    spots = mine.geometry.representative_point()
    labels = [
        Label(p.x, p.y, plain(y, 10), weight=float(a), away=False)
        for p, y, a in zip(spots, mine["yard_id"], mine["area_m2"], strict=True)
    ]
    return place_labels(ax, labels)


def _left_out(number: int) -> str:
    return (
        f"{counted(number, 'yard number')} left out for want of room: see the page or plan.gpkg."
        if number
        else ""
    )


def _told(plan: Plan) -> list[str]:
    head, currency = plan.headline, plan.study.planting.currency
    told = f"Cost of all plants: {money(head['cost'], currency)}"
    if head["counts"]["plants_of_members"] not in (0, head["counts"]["plants"]):
        told += f"; of those for members {money(head['cost_of_members'])}"
    return [f"{told}. To buy with spares and full trays: {money(head['cost_to_buy'])}."]

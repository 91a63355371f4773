"""Where the corridor of one butterfly breaks: how its ways are shared, and what one more bed would bring."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import shapely
from matplotlib import colormaps
from matplotlib.collections import LineCollection

from habitat.report.maps.base import draw_base, town_bounds
from habitat.report.maps.corridor import WEAKEST, file_word, scored_butterflies, spots_of
from habitat.report.maps.style import INK, PAPER, Sheet, size_for_panels
from habitat.report.maps.town import label_anchors
from habitat.report.page.breaks import break_sentences
from habitat.report.plan import Plan
from habitat.report.words.en import voice
from habitat.report.words.numbers import Units
from habitat.report.words.text import file_names, plain
from habitat.terms import anchor_id

VIRIDIS = colormaps["viridis"]
FLOW = "#31568c"
PANELS = ("How the ways are shared", "What one more bed would bring")
STEPS = (0.1, 0.5, 1.0)
"""Shares of the flow that the legend shows."""


def break_drawings(plan: Plan) -> list[partial[list[Path]]]:
    """Return a drawing for each butterfly that distance limits, each a function of plan and folder."""
    names = [b for b in scored_butterflies(plan) if _flow(plan, b) or _gains(plan, b)]
    files = file_names([file_word(plan, n) for n in names], "weakest-")
    return [partial(_draw_breaks, butterfly=n, name=files[file_word(plan, n)]) for n in names]


def _flow(plan: Plan, butterfly: str) -> list[dict[str, Any]]:
    """Return the links that flow takes between any two habitats, each with its greatest share."""
    best: dict[tuple[str, str], float] = {}
    for pair in plan.breaks.get(butterfly, {}).get("pairs") or []:
        for link in pair.get("flow_links") or []:
            ends = str(link["from"]), str(link["to"])
            best[ends] = max(best.get(ends, 0.0), float(link["share"]))
    return [{"from": a, "to": b, "share": s} for (a, b), s in best.items()]


def _gains(plan: Plan, butterfly: str) -> dict[str, Any]:
    bed = plan.breaks.get(butterfly, {}).get("one_more_bed") or {}
    return bed if len(bed.get("gain_m2") or []) else {}


def _draw_breaks(plan: Plan, folder: Path, *, butterfly: str, name: str) -> list[Path]:
    common = plain(plan.knowledge.butterflies["common_name"].get(butterfly, butterfly), 60)
    bounds = town_bounds(plan)
    columns = 1 if bounds[2] - bounds[0] > 1.5 * (bounds[3] - bounds[1]) else 2
    sheet = Sheet(
        plan,
        f"Where the {common} would get stuck",
        "With the members' plans: the ways between existing habitats, and places for one more bed",
        bounds,
        size_for_panels(bounds, 2, columns),
    )
    left, right = sheet.panels(PANELS, columns)
    for ax in (left, right):
        draw_base(ax, plan, line_pt=0.3)
        label_anchors(ax, plan)
    ways = _draw_flow(left, plan, butterfly)
    beds = _draw_gains(right, plan, butterfly)
    y = sheet.legend([(PANELS[0], ways), (PANELS[1], beds)])
    found = plan.breaks.get(butterfly, {})
    told = break_sentences(
        {k: found[k] for k in ("pairs", "gap") if k in found},
        voice(plan.study.report),
        plan.study.connectivity.distance == "by ground",
    )
    sheet.notes([plain(s, 200) for s in told[-3:]], y - 0.1)
    sheet.caption("shares and gains at median reach; a bed counts as large as the middle one that stands")
    return sheet.save(folder, name)


def _draw_flow(ax: Any, plan: Plan, butterfly: str) -> list[tuple[Any, str]]:
    """Draw each way as wide as its share of what moves, and ring the places that all must pass."""
    flow = _flow(plan, butterfly)
    if not flow:
        apart = plan.breaks[butterfly].get("pairs")
        why = (
            "nothing joins the existing habitats yet" if apart else "it has no two existing habitats to join"
        )
        return [(mpl.patches.Patch(fc="none", ec="none"), why)]
    spots = spots_of(plan, butterfly)
    lines = [_line(plan, spots, link["from"], link["to"]) for link in flow]
    share = np.array([link["share"] for link in flow])
    drawn = [k for k, line in enumerate(lines) if line is not None]
    drawn.sort(key=lambda k: share[k])
    look = {"linewidths": _width(share[drawn]), "capstyle": "round", "zorder": 10}
    ax.add_collection(LineCollection([lines[k] for k in drawn], colors=[FLOW], **look), autolim=False)
    entries = [
        (mpl.lines.Line2D([], [], color=FLOW, lw=_width(s)), f"{s:.0%} of what moves".replace("%", " %"))
        for s in STEPS
    ]
    pairs = plan.breaks[butterfly].get("pairs") or []
    narrow = {str(p) for pair in pairs for p in pair.get("narrow_places") or []}
    at = np.array([(spots[p].x, spots[p].y) for p in sorted(narrow) if p in spots]).reshape(-1, 2)
    if len(at):
        ax.scatter(*at.T, s=70, facecolors=PAPER, edgecolors=WEAKEST, linewidths=2.0, zorder=12)
        ring = mpl.lines.Line2D([], [], marker="o", ms=7, mfc=PAPER, mec=WEAKEST, mew=2.0, ls="none")
        entries.append((ring, f"narrow place: everything goes through it ({len(at)})"))
    return entries


def _width(share: Any) -> Any:
    return 0.3 + 4.7 * share


def _draw_gains(ax: Any, plan: Plan, butterfly: str) -> list[tuple[Any, str]]:
    """Draw the gap, and a square per place tried, as dark as what a bed there would bring."""
    entries: list[tuple[Any, str]] = []
    gap = plan.breaks[butterfly].get("gap") or {}
    line = _line(plan, spots_of(plan, butterfly), gap["from"], gap["to"]) if gap else None
    if line is not None:
        ax.plot(*line.T, color=WEAKEST, lw=2.4, ls=(0, (2.2, 1.1)), zorder=14)
        mark = mpl.lines.Line2D([], [], color=WEAKEST, lw=2.4, ls=(0, (2.2, 1.1)))
        entries.append((mark, "the weakest place"))
    bed = _gains(plan, butterfly)
    if not bed:
        return entries
    x, y, gain = (np.array(bed[k], float) for k in ("x", "y", "gain_m2"))
    top = max(float(gain.max()), 1e-9)
    inches = ax.get_position().width * ax.figure.get_size_inches()[0]
    west, east = ax.get_xlim()
    side_pt = max(72.0 * _spacing(x, y) * inches / (east - west), 2.5)
    colours = VIRIDIS(0.95 - 0.85 * np.clip(gain / top, 0.0, 1.0))
    ax.scatter(x, y, s=side_pt**2, c=colours, marker="s", linewidths=0, zorder=8, alpha=0.9)
    best = int(np.argmax(gain))
    ax.scatter(x[best], y[best], s=90, marker="*", c=PAPER, edgecolors=INK, linewidths=0.9, zorder=16)
    units = Units(plan.study.report.units)
    star = mpl.lines.Line2D([], [], marker="*", ms=10, mfc=PAPER, mec=INK, mew=0.9, ls="none")
    size = units.area(float(bed.get("bed_m2", 0.0)))
    entries.append((star, f"best of the places tried, for a bed of {size}"))
    for level in (1.0, 0.5, 0.1):
        patch = mpl.patches.Patch(fc=VIRIDIS(0.95 - 0.85 * level), ec="none")
        entries.append((patch, f"adds {_gain(units, level * top)} to what is connected"))
    return entries


def _gain(units: Units, value_m2: float) -> str:
    """Return an area with one digit that counts."""
    return units.area(float(f"{value_m2:.1g}")) if value_m2 >= 0.05 else f"less than {units.area(0.1)}"


def _spacing(x: Any, y: Any) -> float:
    """Return how far apart the places tried lie [m]."""
    steps = [np.diff(np.unique(np.round(v, 3))) for v in (x, y)]
    known = np.concatenate([s[s > 0.01] for s in steps])
    return float(known.min()) if len(known) else 2.0


def _line(plan: Plan, spots: dict[str, Any], one: str, two: str) -> Any:
    """Return the straight way between two places as points, None if one of them is not shown.

    From the edge of an anchor, and from the middle of a yard's breeding ground.
    """
    shapes = {**spots, **_anchors(plan)}
    if one not in shapes or two not in shapes:
        return None
    return shapely.get_coordinates(shapely.shortest_line(shapes[one], shapes[two]))


def _anchors(plan: Plan) -> dict[str, Any]:
    frame = plan.layers.frame("anchors")
    if frame is None or "name" not in frame:
        return {}
    return {anchor_id(n): g for n, g in zip(frame["name"], frame.geometry, strict=True)}

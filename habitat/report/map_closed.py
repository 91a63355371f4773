"""Closed ground: where nothing can be planted, and why; for flowers and for trees side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib import colormaps

from habitat.report.map_base import draw_base, draw_shapes, town_bounds
from habitat.report.map_style import Sheet, size_for_panels
from habitat.report.plan import Plan
from habitat.report.words import Units, plain

VIRIDIS = colormaps["viridis"]
GROUPS: tuple[tuple[str, tuple[str, ...], float, str | None], ...] = (
    ("buildings and room to walls", ("wall", "building"), 0.0, None),
    ("paving and its edge", ("paving",), 0.3, None),
    ("edges of yards, fences, streets", ("edge of", "fence", "street", "road"), 0.55, None),
    ("trees, roots, plants that stay", ("trunk", "root", "leave as it is"), 0.75, None),
    ("buried lines, wires, septic fields", ("buried", "wires", "septic"), 0.88, "////"),
    ("water and steep ground", ("water", "steep"), 0.96, "...."),
    ("other reasons", ("",), 1.0, "xxxx"),
)
"""Words, keys that a reason holds (first match), place on the colour map, hatch."""

FORMS = (("herb", "For flowers and grasses"), ("tree", "For trees"))


def draw_closed(plan: Plan, folder: Path) -> list[Path]:
    """Draw the map ``closed-ground``."""
    bounds = town_bounds(plan)
    wide = bounds[2] - bounds[0] > 1.4 * (bounds[3] - bounds[1])
    sheet = Sheet(
        plan,
        "Where nothing can be planted, and why",
        "White is open ground; where several reasons meet, the first in the list shows. Shrubs lie between.",
        bounds,
        size_in=size_for_panels(bounds, 2, 1 if wide else 2),
    )
    closed = plan.site.closed_ground
    seen: dict[str, Any] = {}
    for ax, (form, _) in zip(
        sheet.panels([t for _, t in FORMS], columns=1 if wide else 2), FORMS, strict=True
    ):
        draw_shapes(ax, plan.yards.geometry, facecolors="#ffffff", edgecolors="none", zorder=1)
        mine = closed[closed["growth_form"].isin([form, "all"])]
        group = mine["reason"].map(group_of)
        for k, (words, _, at, hatch) in reversed(list(enumerate(GROUPS))):
            shapes = mine.geometry[group == k]
            if len(shapes):
                look = {"facecolors": VIRIDIS(at), "edgecolors": "#ffffff" if hatch else "none"}
                draw_shapes(ax, shapes, hatch=hatch, linewidths=0.0, zorder=2, **look)
                edge = "#ffffff" if hatch else "#8a877c"
                seen.setdefault(words, mpl.patches.Patch(fc=VIRIDIS(at), ec=edge, hatch=hatch, lw=0.3))
        ground = draw_base(ax, plan, faint=True, anchors=False, line_pt=0.3)
    reasons = [(seen[w], w) for w, *_ in GROUPS if w in seen]
    y = sheet.legend([("Closed because of", reasons), ("The ground", ground)])
    sheet.notes([_told(plan), *_cautions(plan)], y - 0.1)
    sheet.caption("outlines of the study's layers, with setbacks as the study sets them")
    return sheet.save(folder, "closed-ground")


def group_of(reason: str) -> int:
    """Return the group of a reason, the first whose key it holds."""
    return next(k for k, (_, keys, _, _) in enumerate(GROUPS) if any(key in str(reason) for key in keys))


def _told(plan: Plan) -> str:
    if not plan.site.placeable:
        return "No building outlines were given: this is what is closed at least."
    herbs = plan.open_ground[plan.open_ground["growth_form"] == "herb"]["open_m2"].sum()
    share = herbs / plan.yards.geometry.area.sum() if len(plan.yards) else 0.0
    return f"Open for flowers and grasses: {100 * share:.0f} % of the yards' ground."


def _cautions(plan: Plan) -> list[str]:
    texts = plan.site.closed_ground["caution"].fillna("").astype(str)
    units = Units(plan.study.report.units)
    return [units.told(plain(t, 150)) for t in dict.fromkeys(texts) if t and ("buried" in t or "wires" in t)][
        :2
    ]

"""The page's map as SVG: what stands still. The script adds what a chosen butterfly changes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import shapely

from habitat.report.page.data import anchor_ids
from habitat.report.page.html import attribute, bare
from habitat.report.page.paths import PER_M, Sheet
from habitat.report.page.yards import outlines
from habitat.report.plan import Plan
from habitat.report.words.streets import named_streets, reading_angle
from habitat.terms import anchor_id, anchor_name

PATTERNS = """<defs>
<pattern id="some" width="14" height="14" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">\
<rect width="14" height="14" class="some-ground"/><rect width="5" height="14" class="some-line"/></pattern>
<pattern id="wild" width="30" height="30" patternUnits="userSpaceOnUse"><rect width="30" height="30" \
class="wild-ground"/><circle cx="8" cy="8" r="3" class="wild-dot"/>\
<circle cx="23" cy="23" r="3" class="wild-dot"/>\
</pattern>
</defs>"""


NEAR_M = 10.0
"""Houses, paving and trees so near to a yard are drawn where others are outlines [m]."""

EMPTY_M = 100.0
"""Side of the frame of a map on which nothing may be shown [m]."""


def map_frame(plan: Plan) -> Sheet:
    """Return the frame of the map: all yards and anchors."""
    shapes = [*plan.yards.geometry, *_anchor_shapes(plan)]
    if not shapes:  # nobody agreed to be shown, and no habitat is named
        return Sheet.around((0.0, 0.0, EMPTY_M, EMPTY_M))
    return Sheet.around(shapely.union_all(shapes).bounds)


def _anchor_shapes(plan: Plan) -> list[Any]:
    frame = plan.layers.frame("anchors")
    return [] if frame is None else [g for g in frame.geometry if g is not None and not g.is_empty]


def map_svg(plan: Plan, sheet: Sheet) -> str:
    """Return the map: ground, anchors, yards, houses, trees, beds; then empty groups for the script."""
    yards = "".join(
        f'<path class="yard {attribute(role)}" data-place="{i}" d="{sheet.path(shape)}"/>'
        for i, (role, shape) in enumerate(zip(plan.yards["role"], plan.yards.geometry, strict=True))
    )
    return (
        f'<svg id="map" viewBox="0 0 {sheet.width} {sheet.height}" role="img" aria-labelledby="map-words">'
        f'<title id="map-words">{bare(_words(plan))}</title>{PATTERNS}'
        f'<rect class="ground" width="{sheet.width}" height="{sheet.height}"/>'
        f"{_streets(plan, sheet)}{_layer(plan, sheet, 'water')}{_anchors(plan, sheet)}"
        f'<g id="yards">{yards}</g>{_layer(plan, sheet, "paving")}{_layer(plan, sheet, "buildings")}'
        f'{_trees(plan, sheet)}<path class="beds" d="{sheet.paths(plan.beds.geometry, tolerance_m=0.05)}"/>'
        f'<g id="ways"></g><g id="chain"></g><g id="marks"></g>{_labels(plan, sheet)}</svg>'
    )


def _words(plan: Plan) -> str:
    """Say what the map shows, for those who do not see it; the table of yards holds the same facts."""
    counts = plan.yards["role"].value_counts()
    told = ", ".join(f"{n} {r}" for r, n in counts.items())
    return (
        f"Map of {len(plan.yards)} yards ({told}), existing habitat, and the ways of the chosen butterfly. "
        "The table of yards below holds the same facts in words."
    )


def _layer(plan: Plan, sheet: Sheet, name: str) -> str:
    frame = plan.layers.frame(name)
    if frame is None or frame.empty or not hasattr(frame, "geometry"):
        return ""
    shown = _seen(plan, _clipped(frame.geometry, sheet))
    return f'<path class="{name}" d="{sheet.paths(shown, tolerance_m=0.1)}"/>'


def _seen(plan: Plan, shapes: list[Any]) -> list[Any]:
    """Return shapes near yards that are more than outlines; all of them where none is one."""
    apart = outlines(plan)
    if not apart or not shapes:
        return shapes
    yards = plan.yards.geometry[~plan.yards["yard_id"].isin(apart)].to_numpy()
    return [shapes[k] for k in np.unique(shapely.STRtree(shapes).query(yards, "dwithin", NEAR_M)[1])]


def _clipped(shapes: Any, sheet: Sheet) -> list[Any]:
    frame = shapely.box(
        sheet.west, sheet.north - sheet.height / PER_M, sheet.west + sheet.width / PER_M, sheet.north
    )
    return [g.intersection(frame) for g in shapes if g is not None and g.intersects(frame)]


def _streets(plan: Plan, sheet: Sheet) -> str:
    frame = plan.layers.frame("streets")
    if frame is None or frame.empty:
        return ""
    width = (
        pd.to_numeric(frame["width_m"], errors="coerce")
        if "width_m" in frame
        else pd.Series(6.0, frame.index)
    )
    shapes = [
        g.buffer(w / 2, cap_style="flat") if g.geom_type.endswith("LineString") else g
        for g, w in zip(frame.geometry, width.fillna(6.0), strict=True)
        if g is not None
    ]
    joined = shapely.union_all(shapes)
    return f'<path class="streets" d="{sheet.paths(_clipped([joined], sheet), tolerance_m=0.1)}"/>'


def _trees(plan: Plan, sheet: Sheet) -> str:
    frame = plan.layers.frame("trees")
    if frame is None or frame.empty or "crown_m" not in frame:
        return ""
    crown = pd.to_numeric(frame["crown_m"], errors="coerce")
    shapes = [g.buffer(c / 2, quad_segs=3) for g, c in zip(frame.geometry, crown, strict=True) if c > 0]
    return f'<path class="trees" d="{sheet.paths(_seen(plan, _clipped(shapes, sheet)))}"/>'


def _anchors(plan: Plan, sheet: Sheet) -> str:
    return "".join(
        f'<path class="anchor" d="{sheet.path(g, tolerance_m=0.1)}"/>' for g in _anchor_shapes(plan)
    )


def _labels(plan: Plan, sheet: Sheet) -> str:
    frame = plan.layers.frame("anchors")
    names = (
        {}
        if frame is None
        else dict(zip(frame["name"].astype(str).map(anchor_id), frame.geometry, strict=True))
    )
    out = []
    for name in anchor_ids(plan):
        x, y = sheet.point(names[name])
        out.append(f'<text class="place" x="{x}" y="{y}">{bare(anchor_name(name))}</text>')
    return f'<g id="labels" aria-hidden="true">{"".join(out)}{_street_names(plan, sheet)}</g>'


def _street_names(plan: Plan, sheet: Sheet) -> str:
    """Return the name of each street on its longest piece, along it; the script shows what has room."""
    out = []
    for name, piece in named_streets(plan.layers.frame("streets")).items():
        middle = piece.interpolate(0.5, normalized=True)
        x, y = sheet.point(middle)
        angle = reading_angle(piece, middle)
        out.append(
            f'<text class="street" data-long="{piece.length * PER_M:.0f}" x="{x}" y="{y}" '
            f'transform="rotate({angle:.0f} {x} {y})">{bare(name)}</text>'
        )
    return "".join(out)

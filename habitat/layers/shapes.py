"""Shapes made usable: right kind, valid, flat, and no square metre lost on the way."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import Geod

from habitat.layers.formats.raw import Draft

POINT, LINE, RING, POLYGON, MULTIPOINT, MULTILINE, MULTIPOLYGON, COLLECTION = range(8)
GEOD = Geod(ellps="WGS84")

MOST_CROSSINGS, MOST_OF_A_LAYER = 20_000, 250_000
"""An outline that crosses itself in more places than this, and those of a layer behind so many together, are
no slips of a hand: to mend them would take a second for each 50,000 crossings (measured)."""

MOST_PARTS = 2_000
"""An invalid shape of more parts and holes than this is set aside: each is held against the others."""


def flatten(draft: Draft) -> None:
    """Drop heights and measures; set aside rows without a shape, and those that could not be read.

    Rows of a table that name their yard or address need no shape.
    """
    assert draft.shapes is not None
    named = _named_otherwise(draft)
    reasons = {r: f"{why}" for r, why in draft.shape_faults.items() if r in draft.table.index}
    rows = draft.table.index.to_numpy()
    missing = shapely.is_missing(draft.shapes)
    empty = ~missing & shapely.is_empty(draft.shapes)
    blank = (
        "it has no geometry (no shape)"
        if draft.own_format != "table"
        else "it has no geometry: its place is blank"
    )
    for row in rows[missing & ~named]:
        reasons.setdefault(int(row), blank)
    draft.shapes[empty & named] = None
    for row in rows[empty & ~named]:
        reasons.setdefault(int(row), "its shape is empty (no coordinates)")
    point = np.flatnonzero((shapely.get_type_id(draft.shapes) == POINT) & ~empty)
    at_zero = (shapely.get_x(draft.shapes[point]) == 0) & (shapely.get_y(draft.shapes[point]) == 0)
    nowhere = point[at_zero]
    for row in rows[nowhere]:
        reasons.setdefault(int(row), "its coordinates are 0, 0, which stands for no place (null)")
    coordinates, owner = shapely.get_coordinates(draft.shapes, return_index=True)
    finite = np.ones(len(rows), dtype=bool)
    finite[owner[~np.isfinite(coordinates).all(axis=1)]] = False
    for row in rows[~finite]:
        reasons.setdefault(int(row), "its coordinates are not numbers")
    draft.set_aside(reasons)
    if len(draft.shapes):
        raised = shapely.has_z(draft.shapes) | shapely.has_m(draft.shapes)
        if raised.any():
            draft.tell(
                f"{int(raised.sum())} shape(s) carry heights or measures (z, m), which are not used", harm=0
            )
            draft.shapes = shapely.force_2d(draft.shapes)


def _named_otherwise(draft: Draft) -> Any:
    known = np.zeros(len(draft.table), dtype=bool)
    for column in (
        ("yard_id", "address") if draft.name in ("plants", "soil_tests", "participants", "sightings") else ()
    ):
        if column in draft.table:
            known |= draft.table[column].notna().to_numpy()
    if draft.name == "sightings":
        known[:] = True
    return known


def to_polygons(draft: Draft) -> None:
    """Make every shape a valid polygon or multipolygon; set aside what holds no area."""
    assert draft.shapes is not None
    kinds = shapely.get_type_id(draft.shapes)
    reasons: dict[int, str] = {}
    for i in np.flatnonzero((kinds != POLYGON) & (kinds != MULTIPOLYGON)):
        _polygon_of_other(draft, int(i), reasons)
    rest = np.array([r not in reasons for r in draft.table.index], dtype=bool)
    bad = np.zeros(len(draft.shapes), dtype=bool)
    bad[rest] = ~shapely.is_valid(draft.shapes[rest])
    _repair_all(draft, np.flatnonzero(bad), reasons)
    area = shapely.area(draft.shapes)
    for i in np.flatnonzero(rest & ~bad & (area <= 0)):
        reasons.setdefault(draft.row_at(int(i)), "its shape has no area")
    draft.set_aside(reasons)


def _polygon_of_other(draft: Draft, i: int, reasons: dict[int, str]) -> None:
    """Take the polygons out of a collection, or close a ring of lines; else say why it cannot be used."""
    assert draft.shapes is not None
    row, shape = draft.row_at(int(i)), draft.shapes[i]
    parts = list(_polygons(shape))
    if parts:
        draft.shapes[i] = (
            shapely.union_all(parts) if all(p.is_valid for p in parts) else shapely.MultiPolygon(parts)
        )
        draft.repaired.add(row)
        draft.tell(
            "a collection of several kinds of shape: its polygon is used, its point(s) and line(s) are not",
            row,
        )
        return
    rings = (
        [p for p in shapely.get_parts(shapely.polygonize([_lines_of(shape)])) if p.area > 0]
        if _lines_of(shape)
        else []
    )
    if rings:
        draft.shapes[i] = shapely.union_all(rings)
        draft.repaired.add(row)
        draft.tell("a closed line, not a polygon: the ground inside is used", row)
        return
    reasons[row] = f"it is a {shape.geom_type.lower()}, not a polygon"


def _polygons(shape: Any) -> list[Any]:
    if shape.geom_type == "Polygon":
        return [shape]
    if hasattr(shape, "geoms"):
        return [p for part in shape.geoms for p in _polygons(part)]
    return []


def _lines_of(shape: Any) -> Any:
    if shape.geom_type in ("LineString", "LinearRing"):
        return shapely.LineString(shape)
    if hasattr(shape, "geoms"):
        lines = [x for x in (_lines_of(part) for part in shape.geoms) if x is not None]
        return shapely.MultiLineString(shapely.get_parts(lines)) if lines else None
    return None


def _repair_all(draft: Draft, places: NDArray[np.int64], reasons: dict[int, str]) -> None:
    """Repair the shapes at some places, unless that would take without end; those are set aside."""
    assert draft.shapes is not None
    left = MOST_OF_A_LAYER
    for i in map(int, places):
        shape = draft.shapes[i]
        limit = min(MOST_CROSSINGS, left)
        parts = sum(1 + len(p.interiors) for p in _polygons(shape))
        crossings = count_crossings(shape, limit) if parts <= MOST_PARTS else 0
        left -= crossings
        if parts > MOST_PARTS:
            reasons[draft.row_at(i)] = (
                f"its shape is invalid and of {parts:,} parts and holes; up to {MOST_PARTS:,} are repaired"
            )
        elif crossings > limit:
            rest = "" if limit == MOST_CROSSINGS else ", those of the rows above counted in"
            most = MOST_CROSSINGS if limit == MOST_CROSSINGS else MOST_OF_A_LAYER
            reasons[draft.row_at(i)] = (
                f"its outline crosses itself in more than {most:,} places{rest}: too many to be repaired"
            )
        else:
            _repair(draft, i, reasons)


def count_crossings(shape: Any, limit: int) -> int:
    """Return in how many places the lines of a shape cross each other, counted no further than past a limit.

    Examples
    --------
    >>> bowtie = shapely.Polygon([(0, 0), (24, 30), (24, 0), (0, 10)])
    >>> count_crossings(bowtie, 10), count_crossings(shapely.box(0, 0, 1, 1), 10)
    (1, 0)
    """
    points, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(shape)), return_index=True)
    along = ring[1:] == ring[:-1]
    lines = shapely.linestrings(np.stack([points[:-1][along], points[1:][along]], axis=1))
    tree, count, size = shapely.STRtree(lines), 0, 64
    for start in range(0, len(lines), size):
        count += int(tree.query(lines[start : start + size], predicate="crosses").shape[1])
        if count > 2 * limit + 1:
            break
    return count // 2


def _repair(draft: Draft, i: int, reasons: dict[int, str]) -> None:
    assert draft.shapes is not None
    row, shape = draft.row_at(int(i)), draft.shapes[i]
    why = shapely.is_valid_reason(shape).split("[")[0].strip().lower() or "invalid"
    mended = repair_polygon(shape, nested_holes=draft.own_format == "shapefile")
    if mended is None or mended.area <= 0:
        reasons[row] = f"its shape is invalid ({why}) and has no area"
        return
    draft.shapes[i] = mended
    draft.repaired.add(row)
    before, after = abs(shape.area), mended.area
    unit = _square_m(draft, mended)
    sizes = f"area as drawn {before * unit:,.1f} m2, after the repair {after * unit:,.1f} m2"
    draft.tell(f"invalid ({words_for(why)}), repaired: {sizes}", row)


def _square_m(draft: Draft, shape: Any) -> float:
    """Return the square metres in one squared unit of a shape's coordinates, at the shape's place."""
    if draft.crs is None:
        return float("nan")
    if draft.crs.is_projected:
        return float(draft.crs.axis_info[0].unit_conversion_factor) ** 2
    return abs(GEOD.geometry_area_perimeter(shape)[0]) / float(shape.area)


def words_for(reason: str) -> str:
    """Return GEOS' reason for an invalid shape in plain words."""
    known = {
        "ring self-intersection": "its outline touches itself, a spike or a self-intersection",
        "self-intersection": "its outline crosses itself: a self-intersection",
        "hole lies outside shell": "a hole lies outside of it",
        "holes are nested": "a hole lies in a hole",
        "nested shells": "one part lies in another",
        "duplicate rings": "the same ring twice",
        "interior is disconnected": "its holes cut it in two",
        "too few points in geometry component": "a ring with too few points, collapsed",
        "invalid coordinate": "a coordinate that is no number",
    }
    return known.get(reason, reason)


def repair_polygon(shape: Any, *, nested_holes: bool = False) -> Any:
    """Return a valid polygon or multipolygon that covers all the ground the shape was drawn around.

    Each outline keeps all its lobes, also where it winds twice around the same ground; parts are joined; a
    ring that is listed as a hole but lies outside its outline counts as a part of its own, and one that lies
    around it as the outline. Lines and points that are left over (spikes) go. None if nothing with an area
    is left.

    Parameters
    ----------
    nested_holes
        Whether a part inside another part is a hole (as in shapefiles, where only the winding tells).

    Examples
    --------
    >>> bowtie = shapely.Polygon([(0, 0), (24, 30), (24, 0), (0, 10)])
    >>> bowtie.area, repair_polygon(bowtie).area
    (240.0, 300.0)
    """
    parts: list[Any] = []
    for polygon in _polygons(shape):
        parts += _polygon_ground(polygon)
    polygons = [p for part in parts for p in _polygons(part) if p.area > 0]
    if not polygons:
        return None
    return only_polygons(_cut_nested(polygons) if nested_holes else shapely.union_all(polygons))


def _polygon_ground(polygon: Any) -> list[Any]:
    """Return the pieces of ground of one polygon's rings."""
    outline = _ring_ground(polygon.exterior)
    parts = []
    for ring in polygon.interiors:
        hole = _ring_ground(ring)
        if hole is None:
            continue
        if outline is None or outline.intersection(hole).area < 0.01 * min(hole.area, outline.area):
            parts.append(hole)
        elif hole.area > outline.area and hole.covers(outline):
            outline = hole.difference(outline)
        else:
            outline = outline.difference(hole)
    return parts if outline is None else [*parts, outline]


def _cut_nested(polygons: list[Any]) -> Any:
    """Return the union of parts, each part that lies inside a larger one cut out of it."""
    ordered = sorted(polygons, key=lambda p: -p.area)
    ground = ordered[0]
    for part in ordered[1:]:
        ground = ground.difference(part) if ground.covers(part) else ground.union(part)
    return ground


def _ring_ground(ring: Any) -> Any:
    """Return the ground that a ring encloses, however often it winds around it; None if it collapses."""
    points = shapely.get_coordinates(ring)
    points = points[np.isfinite(points).all(axis=1)]
    if len(np.unique(points, axis=0)) < 3:
        return None
    outline = shapely.Polygon(points)
    ground = (
        outline if outline.is_valid else shapely.make_valid(outline, method="structure", keep_collapsed=False)
    )
    ground = only_polygons(ground)
    return None if ground is None or ground.area <= 0 else ground


def only_polygons(shape: Any) -> Any:
    """Return the polygons of a shape as one polygon or multipolygon, None if it holds none."""
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return None if shape.is_empty else shape
    parts = [p for p in _polygons(shape) if not p.is_empty]
    if not parts:
        return None
    return parts[0] if len(parts) == 1 else shapely.union_all(parts)


def to_points(draft: Draft) -> None:
    """Make every shape one point: several points become their middle, other shapes a point inside; told."""
    assert draft.shapes is not None
    kinds = shapely.get_type_id(draft.shapes)
    for i in np.flatnonzero((kinds != POINT) & (kinds >= 0)):
        row, shape = draft.row_at(int(i)), draft.shapes[i]
        single = shapely.get_parts(shape)
        if kinds[i] == MULTIPOINT and len(single) == 1:
            draft.shapes[i] = single[0]
            continue
        if kinds[i] in (POLYGON, MULTIPOLYGON) and draft.name == "trees":
            _crown_of(draft, row, shape)
        draft.shapes[i] = shape.centroid if kinds[i] == MULTIPOINT else shape.representative_point()
        draft.repaired.add(row)
        draft.tell(f"a {shape.geom_type.lower()}, not a point: read as one point in its middle", row)


def _crown_of(draft: Draft, row: int, shape: Any) -> None:
    known = "crown_m" in draft.table and not np.isnan(
        float(draft.table["crown_m"].to_numpy()[draft.place_of(row)])
    )
    if not known and shape.area > 0:
        draft.table.loc[row, "crown_m"] = 2 * np.sqrt(shape.area * _square_m(draft, shape) / np.pi)


def check_any(draft: Draft) -> None:
    """Repair polygons of a layer that may hold any kind of shape; leave lines and points as they are."""
    assert draft.shapes is not None
    kinds = shapely.get_type_id(draft.shapes)
    reasons: dict[int, str] = {}
    invalid = ~shapely.is_valid(draft.shapes)
    for i in np.flatnonzero((kinds == COLLECTION) & invalid):
        areas = shapely.GeometryCollection(_polygons(draft.shapes[i]))
        if count_crossings(areas, MOST_CROSSINGS) > MOST_CROSSINGS:
            reasons[draft.row_at(int(i))] = (
                f"its outlines cross in more than {MOST_CROSSINGS:,} places: too many to be repaired"
            )
            continue
        draft.shapes[i] = shapely.make_valid(draft.shapes[i])
        draft.repaired.add(draft.row_at(int(i)))
    _repair_all(draft, np.flatnonzero(np.isin(kinds, (POLYGON, MULTIPOLYGON)) & invalid), reasons)
    draft.set_aside(reasons)

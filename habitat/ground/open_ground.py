"""Open ground by growth form: each yard less what stands there and the room it needs, with reasons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio import features

from habitat.arrays import Shapes
from habitat.errors import ParameterError
from habitat.grid import Grid
from habitat.ground.corners import corner_triangles, drive_triangles
from habitat.ground.setbacks import (
    BUSY_EDGE,
    DRIVE_MOUTH,
    FORMS,
    SEPTIC_SOMEWHERE,
    SPRAYED,
    STEEP,
    STREET_CORNER,
    SURROUNDINGS,
    UNDER_WIRES,
    LowGround,
    Setback,
    limits,
    setbacks,
)
from habitat.ground.things import street_widths, things, traffic_notes
from habitat.remarks import Remark, Subject, remark
from habitat.settings.site import SiteSettings

OPEN_COLUMNS = ["yard_id", "growth_form", "open_m2", "geometry"]
CLOSED_COLUMNS = ["yard_id", "what", "reason", "growth_form", "setback_m", "caution", "geometry"]
HEIGHT_COLUMNS = ["yard_id", "what", "reason", "height_max_m", "caution", "geometry"]
HOST_COLUMNS = ["yard_id", "reason", "geometry"]


@dataclass(frozen=True, slots=True)
class Ground:
    """Open and closed ground and its limits.

    open_ground : a row per yard and growth form: yard_id, growth_form, open_m2 [m2], geometry (may be empty).
    closed_ground : a row per closed piece: yard_id, what (key of ``Setback``), reason (words), growth_form
    ("all" or one), setback_m [m], caution (words, may be empty), geometry; pieces may overlap. height_limits
    : where plants stay low: yard_id, what (key of ``LowGround``), reason, height_max_m [m], caution,
    geometry. host_limits : where no caterpillar host may stand:
    yard_id, reason, geometry. placeable : False if nobody knows where buildings stand.
    """

    open_ground: gpd.GeoDataFrame
    closed_ground: gpd.GeoDataFrame
    height_limits: gpd.GeoDataFrame
    host_limits: gpd.GeoDataFrame
    placeable: bool
    notes: tuple[Remark, ...]


class _Closed(NamedTuple):
    """A closed piece of the yard at a position: why, for which growth form ("all" or one), how far [m]."""

    yard: int
    what: str
    reason: str
    growth_form: str
    setback_m: float
    caution: str
    piece: shapely.Geometry


@dataclass(frozen=True, slots=True)
class _Yards:
    """Yards as plain arrays."""

    ids: NDArray[np.object_]
    shapes: Shapes
    tree: shapely.STRtree

    @classmethod
    def of(cls, yards: gpd.GeoDataFrame) -> _Yards:
        shapes = np.asarray(shapely.force_2d(yards.geometry.to_numpy()), object)
        return cls(yards["yard_id"].astype(str).to_numpy(object), shapes, shapely.STRtree(shapes))

    def pieces(self, zones: Shapes) -> dict[int, shapely.Geometry]:
        """Return, per yard position, the part of it that lies in any of the zones."""
        zones = zones[~shapely.is_empty(zones)]
        if not len(zones):
            return {}
        zone, yard = self.tree.query(zones, predicate="intersects")
        order = np.lexsort((zone, yard))
        parts = shapely.intersection(self.shapes[yard[order]], zones[zone[order]])
        keep = shapely.area(parts) > 0
        found, first = np.unique(yard[order][keep], return_index=True)
        groups = np.split(parts[keep], first[1:]) if len(found) else []
        return {int(y): _joined(group) for y, group in zip(found, groups, strict=True)}


def _joined(parts: Shapes) -> shapely.Geometry:
    return parts[0] if len(parts) == 1 else shapely.union_all(parts)


def _widened(shapes: Shapes, distance: float) -> Shapes:
    return np.asarray(shapely.buffer(shapes, distance, quad_segs=8) if distance > 0 else shapes, object)


def open_and_closed(
    yards: gpd.GeoDataFrame,
    surroundings: Mapping[str, gpd.GeoDataFrame],
    settings: SiteSettings | None = None,
    *,
    steep: Shapes | None = None,
) -> Ground:
    """Return where plants of each growth form may stand in each yard, and why not elsewhere.

    Parameters
    ----------
    yards
        yard_id and polygons in a metric CRS; septic and sprayed (bool) where known.
    surroundings
        What is there, by the names of ``SURROUNDINGS`` (buildings, paving, trees, streets, ...), in the CRS
        of the yards; columns as in ``things``, and of paving kind. Without buildings nothing is placeable.
    settings
        Setbacks that differ from the table's; None for the table.
    steep
        Outlines of ground too steep to plant (``steep_ground``); None if nobody looked.

    Raises
    ------
    ParameterError
        If a name of the surroundings is not known, or a setback names something that is not in the table.

    Notes
    -----
    The distances are common practice. Local codes and the owners of lines come first: have buried lines
    marked before anyone digs.

    Examples
    --------
    >>> box = shapely.box
    >>> yard = gpd.GeoDataFrame({"yard_id": ["a"]}, geometry=[box(0, 0, 20, 30)], crs=32617)
    >>> house = gpd.GeoDataFrame(geometry=[box(5, 18, 15, 28)], crs=32617)
    >>> tree = gpd.GeoDataFrame(geometry=[shapely.Point(5, 6)], crs=32617)
    >>> ground = open_and_closed(yard, {"buildings": house, "trees": tree})
    >>> ground.open_ground[["growth_form", "open_m2"]].round().to_dict("list")
    {'growth_form': ['herb', 'shrub', 'tree'], 'open_m2': [456.0, 351.0, 98.0]}
    >>> ground.closed_ground["reason"].unique().tolist()
    ['wall of a building', 'trunk and root flare of a tree', 'edge of the yard']
    """
    unknown = sorted(set(surroundings) - set(SURROUNDINGS))
    if unknown:
        raise ParameterError("surroundings", unknown, f"of {', '.join(SURROUNDINGS)}")
    used = SiteSettings() if settings is None else settings
    plots, found = _Yards.of(yards), things(surroundings)
    limit = limits(used.setbacks)
    closed = _closed_pieces(plots, found, used)
    if steep is not None:
        closed += _around(plots, steep, STEEP)
    closed += _septic_somewhere(plots, yards, found.get("septic"))
    placeable = "buildings" in surroundings
    notes = traffic_notes(surroundings.get("streets"))
    if not placeable:
        notes.append(remark("nothing_placed", Subject(layers=("buildings",))))
    return Ground(
        _open_table(plots, closed, yards.crs),
        _closed_table(plots, closed, yards.crs),
        _height_limits(plots, surroundings, found, limit, yards.crs),
        _host_limits(plots, yards, found.get("busy_road"), limit["host_road"]),
        placeable,
        tuple(notes),
    )


def _closed_pieces(yards: _Yards, found: Mapping[str, Shapes], settings: SiteSettings) -> list[_Closed]:
    closed: list[_Closed] = []
    for what, setback in setbacks(settings.setbacks).items():
        if what == "boundary":
            closed += _along_boundaries(yards, setback)
        elif what in found:
            closed += _around(yards, found[what], setback)
    return closed


def _by_form(setback: Setback) -> list[tuple[str, float]]:
    """Return growth forms with their distances [m]: "all" alone where it is the same for all."""
    if len(set(setback.distances_m)) == 1:
        return [("all", setback.distances_m[0])]
    return list(zip(FORMS, setback.distances_m, strict=True))


def _around(yards: _Yards, shapes: Shapes, setback: Setback) -> list[_Closed]:
    """Return the closed pieces around things."""
    out = []
    for form, distance in _by_form(setback):
        if distance == 0 and not setback.closed:
            continue
        pieces = yards.pieces(_widened(shapes, distance)).items()
        out += [_closed(y, setback, form, distance, piece) for y, piece in pieces]
    return out


def _along_boundaries(yards: _Yards, setback: Setback) -> list[_Closed]:
    out = []
    for form, distance in _by_form(setback):
        if distance == 0:
            continue
        strips = shapely.difference(yards.shapes, shapely.buffer(yards.shapes, -distance, join_style="mitre"))
        for y in np.flatnonzero(shapely.area(strips) > 0):
            out.append(_closed(int(y), setback, form, distance, strips[y]))
    return out


def _septic_somewhere(yards: _Yards, frame: gpd.GeoDataFrame, fields: Shapes | None) -> list[_Closed]:
    """Close yards to woody plants that have a septic field of which nobody drew the place."""
    if "septic" not in frame:
        return []
    drawn = set(yards.pieces(fields)) if fields is not None else set()
    says = frame["septic"].fillna(False).astype(bool).to_numpy()
    unknown = [int(y) for y in np.flatnonzero(says) if int(y) not in drawn]
    return [_closed(y, SEPTIC_SOMEWHERE, form, 0.0, yards.shapes[y]) for y in unknown for form in FORMS[1:]]


def _closed(yard: int, why: Setback, form: str, distance_m: float, piece: shapely.Geometry) -> _Closed:
    return _Closed(yard, why.what, why.reason, form, distance_m, why.caution, piece)


def _open_table(yards: _Yards, closed: list[_Closed], crs: object) -> gpd.GeoDataFrame:
    by_place: dict[tuple[int, str], list[shapely.Geometry]] = {}
    for y, _, _, form, _, _, piece in closed:
        for one in FORMS if form == "all" else (form,):
            by_place.setdefault((y, one), []).append(piece)
    rows = []
    for y, (yard_id, shape) in enumerate(zip(yards.ids, yards.shapes, strict=True)):
        for form in FORMS:
            taken = by_place.get((y, form))
            rest = _polygons_only(shapely.difference(shape, shapely.union_all(taken))) if taken else shape
            rows.append((yard_id, form, shapely.area(rest), rest))
    return gpd.GeoDataFrame(rows, columns=OPEN_COLUMNS, geometry="geometry", crs=crs)


def _polygons_only(shape: shapely.Geometry) -> shapely.Geometry:
    """Return the polygons of a shape: lines and points that an overlay leaves have no room for plants."""
    parts = shapely.get_parts(shape)
    parts = parts[shapely.area(parts) > 0]
    if len(parts) == 1:
        return parts[0]
    return (
        shapely.multipolygons([p for p in parts if p.geom_type == "Polygon"])
        if len(parts)
        else shapely.Polygon()
    )


def _closed_table(yards: _Yards, closed: list[_Closed], crs: object) -> gpd.GeoDataFrame:
    rows = [
        (yards.ids[y], *rest, _polygons_only(piece)) for y, *rest, piece in sorted(closed, key=lambda r: r[0])
    ]
    return gpd.GeoDataFrame(rows, columns=CLOSED_COLUMNS, geometry="geometry", crs=crs)


# Limits ----------------------------------------------------------------------------------------------------


def _height_limits(
    yards: _Yards,
    surroundings: Mapping[str, gpd.GeoDataFrame],
    found: Mapping[str, Shapes],
    limit: Mapping[str, float],
    crs: object,
) -> gpd.GeoDataFrame:
    """Return where plants stay low: sight triangles and the ground around wires."""
    low = _sight_triangles(surroundings.get("streets"), surroundings.get("paving"), limit)
    if "wires" in found and limit[UNDER_WIRES.reach] > 0:
        low.append((UNDER_WIRES, _widened(found["wires"], limit[UNDER_WIRES.reach])))
    rows = [
        (yards.ids[y], why.what, why.reason, limit[why.height], why.caution, _polygons_only(piece))
        for why, shapes in low
        for y, piece in yards.pieces(shapes).items()
    ]
    return gpd.GeoDataFrame(rows, columns=HEIGHT_COLUMNS, geometry="geometry", crs=crs)


def _sight_triangles(
    streets: gpd.GeoDataFrame | None, paving: gpd.GeoDataFrame | None, limit: Mapping[str, float]
) -> list[tuple[LowGround, Shapes]]:
    if streets is None or not len(streets):
        return []
    lines = streets.explode(index_parts=False)
    lines = lines[lines.geometry.geom_type == "LineString"]
    width = street_widths(lines)
    leg = limit[STREET_CORNER.reach]
    corners = corner_triangles(list(shapely.force_2d(lines.geometry.to_numpy())), width, leg)
    out = [(STREET_CORNER, np.array(corners, object))]
    if paving is not None and "kind" in paving:
        is_drive = paving["kind"].astype("string").str.startswith("drive").fillna(False)
        drives = paving.geometry[is_drive.to_numpy()]
        beside = drive_triangles(drives, lines.geometry, width, limit[DRIVE_MOUTH.reach])
        out.append((DRIVE_MOUTH, np.array(beside, object)))
    return out


def _host_limits(
    yards: _Yards, frame: gpd.GeoDataFrame, busy_roads: Shapes | None, reach_m: float
) -> gpd.GeoDataFrame:
    """Return where no caterpillar host may stand: sprayed yards, edges of busy roads."""
    rows = []
    if "sprayed" in frame:
        sprayed = np.flatnonzero(frame["sprayed"].fillna(False).astype(bool).to_numpy())
        rows += [(yards.ids[y], SPRAYED, yards.shapes[y]) for y in sprayed]
    if busy_roads is not None and reach_m > 0:
        near = yards.pieces(_widened(busy_roads, reach_m)).items()
        rows += [(yards.ids[y], BUSY_EDGE, _polygons_only(piece)) for y, piece in near]
    return gpd.GeoDataFrame(rows, columns=HOST_COLUMNS, geometry="geometry", crs=frame.crs)


def open_mask(open_ground: gpd.GeoDataFrame, growth_form: str, grid: Grid) -> NDArray[np.bool_]:
    """Return the cells whose centre lies in the open ground of a growth form, in any yard.

    Parameters
    ----------
    open_ground
        As ``Ground.open_ground``: growth_form and geometry.
    growth_form
        "herb", "shrub" or "tree".
    grid
        Which cells.

    Returns
    -------
    NDArray
        bool (rows, cols).

    Examples
    --------
    >>> yard = gpd.GeoDataFrame({"yard_id": ["a"]}, geometry=[shapely.box(0, 0, 20, 30)], crs=32617)
    >>> house = gpd.GeoDataFrame(geometry=[shapely.box(5, 18, 15, 28)], crs=32617)
    >>> ground = open_and_closed(yard, {"buildings": house})
    >>> mask = open_mask(ground.open_ground, "herb", Grid.from_bounds((0, 0, 20, 30), 1.0, "EPSG:32617"))
    >>> mask.shape, bool(mask[20, 10]), bool(mask[7, 10])  # in the grass, in the house
    ((30, 20), True, False)
    """
    shapes = open_ground.geometry[open_ground["growth_form"] == growth_form]
    shapes = [s for s in shapes if not s.is_empty]
    if not shapes:
        return np.zeros(grid.shape, bool)
    return np.asarray(features.rasterize(shapes, grid.shape, transform=grid.transform, dtype="uint8") > 0)

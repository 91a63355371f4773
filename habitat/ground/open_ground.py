"""Open ground by growth form: each yard less what stands there and the room it needs, with reasons."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio import features

from habitat.arrays import Shapes
from habitat.grid import Grid
from habitat.ground.corners import corner_triangles, drive_triangles
from habitat.ground.setbacks import (
    FORMS,
    SEPTIC_CAUTION,
    SEPTIC_REASON,
    SIGHT_CAUTION,
    STEEP_CAUTION,
    STEEP_REASON,
    WIRE_CAUTION,
    Setback,
    limits,
    setbacks,
)
from habitat.ground.things import street_widths, things
from habitat.layers.types import Layers
from habitat.remarks import Remark, Subject, remark

OPEN_COLUMNS = ["yard_id", "growth_form", "open_m2", "geometry"]
CLOSED_COLUMNS = ["yard_id", "reason", "growth_form", "setback_m", "caution", "geometry"]
HEIGHT_COLUMNS = ["yard_id", "reason", "height_max_m", "caution", "geometry"]
HOST_COLUMNS = ["yard_id", "reason", "geometry"]


@dataclass(frozen=True, slots=True)
class Ground:
    """Open and closed ground and its limits: tables as ``Site`` describes them."""

    open_ground: gpd.GeoDataFrame
    closed_ground: gpd.GeoDataFrame
    height_limits: gpd.GeoDataFrame
    host_limits: gpd.GeoDataFrame
    placeable: bool
    notes: tuple[Remark, ...]


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


def open_and_closed(layers: Layers) -> Ground:
    """Return where plants of each growth form may stand in each yard, and why not elsewhere.

    Raises
    ------
    ParameterError
        If the study's setbacks name something that is not in the table.
    """
    yards = _Yards.of(layers.yards)
    found, told = things(layers)
    table = setbacks(layers.study.site.setbacks)
    closed: list[tuple[int, str, str, float, str, shapely.Geometry]] = []
    for what, setback in table.items():
        if what == "boundary":
            closed += _along_boundaries(yards, setback)
        elif what in found:
            closed += _around(yards, found[what], setback)
    if "steep" in found:
        pieces = yards.pieces(found["steep"]).items()
        closed += [(y, STEEP_REASON, "all", 0.0, STEEP_CAUTION, piece) for y, piece in pieces]
    closed += _septic_somewhere(yards, layers, found.get("septic"))
    placeable = layers.frame("buildings") is not None
    notes = list(told) if placeable else [*told, remark("nothing_placed", Subject(layers=("buildings",)))]
    return Ground(
        _open_table(yards, closed, layers),
        _closed_table(yards, closed, layers),
        _height_limits(yards, layers, found),
        _host_limits(yards, layers, found),
        placeable,
        tuple(notes),
    )


def _around(
    yards: _Yards, shapes: Shapes, setback: Setback
) -> list[tuple[int, str, str, float, str, shapely.Geometry]]:
    """Return the closed pieces around things: one for all growth forms where the distance is the same."""
    distances = [setback.distance(form) for form in FORMS]
    same = len(set(distances)) == 1
    out = []
    for form, distance in zip(("all",) if same else FORMS, distances, strict=False):
        if distance == 0 and not setback.closed:
            continue
        pieces = yards.pieces(_widened(shapes, distance)).items()
        out += [(y, setback.reason, form, distance, setback.caution, piece) for y, piece in pieces]
    return out


def _along_boundaries(
    yards: _Yards, setback: Setback
) -> list[tuple[int, str, str, float, str, shapely.Geometry]]:
    distances = [setback.distance(form) for form in FORMS]
    same = len(set(distances)) == 1
    out = []
    for form, distance in zip(("all",) if same else FORMS, distances, strict=False):
        if distance == 0:
            continue
        strips = shapely.difference(yards.shapes, shapely.buffer(yards.shapes, -distance, join_style="mitre"))
        for y in np.flatnonzero(shapely.area(strips) > 0):
            out.append((int(y), setback.reason, form, distance, setback.caution, strips[y]))
    return out


def _septic_somewhere(
    yards: _Yards, layers: Layers, fields: Shapes | None
) -> list[tuple[int, str, str, float, str, shapely.Geometry]]:
    """Close yards to woody plants that have a septic field of which nobody drew the place."""
    if "septic" not in layers.yards:
        return []
    drawn = set(yards.pieces(fields)) if fields is not None else set()
    says = layers.yards["septic"].fillna(False).astype(bool).to_numpy()
    unknown = [int(y) for y in np.flatnonzero(says) if int(y) not in drawn]
    return [
        (y, SEPTIC_REASON, form, 0.0, SEPTIC_CAUTION, yards.shapes[y]) for y in unknown for form in FORMS[1:]
    ]


def _open_table(
    yards: _Yards, closed: list[tuple[int, str, str, float, str, shapely.Geometry]], layers: Layers
) -> gpd.GeoDataFrame:
    by_place: dict[tuple[int, str], list[shapely.Geometry]] = {}
    for y, _, form, _, _, piece in closed:
        for one in FORMS if form == "all" else (form,):
            by_place.setdefault((y, one), []).append(piece)
    rows = []
    for y, (yard_id, shape) in enumerate(zip(yards.ids, yards.shapes, strict=True)):
        for form in FORMS:
            taken = by_place.get((y, form))
            rest = polygons_only(shapely.difference(shape, shapely.union_all(taken))) if taken else shape
            rows.append((yard_id, form, shapely.area(rest), rest))
    return gpd.GeoDataFrame(rows, columns=OPEN_COLUMNS, geometry="geometry", crs=layers.crs)


def polygons_only(shape: shapely.Geometry) -> shapely.Geometry:
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


def _closed_table(
    yards: _Yards, closed: list[tuple[int, str, str, float, str, shapely.Geometry]], layers: Layers
) -> gpd.GeoDataFrame:
    rows = [
        (yards.ids[y], *rest, polygons_only(piece)) for y, *rest, piece in sorted(closed, key=lambda r: r[0])
    ]
    return gpd.GeoDataFrame(rows, columns=CLOSED_COLUMNS, geometry="geometry", crs=layers.crs)


# Limits ----------------------------------------------------------------------------------------------------


def _height_limits(yards: _Yards, layers: Layers, found: dict[str, Shapes]) -> gpd.GeoDataFrame:
    """Return where plants stay low: sight triangles and the ground around wires."""
    limit = limits(layers.study.site.setbacks)
    rows = []
    for reason, triangles in _sight_triangles(layers, limit).items():
        for y, piece in yards.pieces(triangles).items():
            rows.append((yards.ids[y], reason, limit["sight_height"], SIGHT_CAUTION, polygons_only(piece)))
    if "wires" in found and limit["wire_reach"] > 0:
        for y, piece in yards.pieces(_widened(found["wires"], limit["wire_reach"])).items():
            rows.append(
                (yards.ids[y], "overhead wires", limit["wire_height"], WIRE_CAUTION, polygons_only(piece))
            )
    return gpd.GeoDataFrame(rows, columns=HEIGHT_COLUMNS, geometry="geometry", crs=layers.crs)


def _sight_triangles(layers: Layers, limit: dict[str, float]) -> dict[str, Shapes]:
    streets = layers.frame("streets")
    if not isinstance(streets, gpd.GeoDataFrame) or not len(streets):
        return {}
    lines = streets.explode(index_parts=False)
    lines = lines[lines.geometry.geom_type == "LineString"]
    width = street_widths(lines)
    corners = corner_triangles(list(shapely.force_2d(lines.geometry.to_numpy())), width, limit["sight_leg"])
    out = {"sight triangle at a street corner": np.array(corners, object)}
    paving = layers.frame("paving")
    if isinstance(paving, gpd.GeoDataFrame) and "kind" in paving:
        drives = paving.geometry[
            paving["kind"].astype("string").str.startswith("drive").fillna(False).to_numpy()
        ]
        beside = drive_triangles(drives, lines.geometry, width, limit["drive_leg"])
        out["sight triangle beside a drive"] = np.array(beside, object)
    return out


def _host_limits(yards: _Yards, layers: Layers, found: dict[str, Shapes]) -> gpd.GeoDataFrame:
    """Return where no caterpillar host may stand: sprayed yards, edges of busy roads."""
    rows = []
    if "sprayed" in layers.yards:
        sprayed = np.flatnonzero(layers.yards["sprayed"].fillna(False).astype(bool).to_numpy())
        rows += [(yards.ids[y], "sprayed yard", yards.shapes[y]) for y in sprayed]
    reach = limits(layers.study.site.setbacks)["host_road"]
    if "busy_road" in found and reach > 0:
        near = yards.pieces(_widened(found["busy_road"], reach)).items()
        rows += [(yards.ids[y], "edge of a busy road", polygons_only(piece)) for y, piece in near]
    return gpd.GeoDataFrame(rows, columns=HOST_COLUMNS, geometry="geometry", crs=layers.crs)


def open_mask(open_ground: gpd.GeoDataFrame, growth_form: str, grid: Grid) -> NDArray[np.bool_]:
    """Return the cells whose centre lies in the open ground of a growth form, in any yard."""
    shapes = open_ground.geometry[open_ground["growth_form"] == growth_form]
    shapes = [s for s in shapes if not s.is_empty]
    if not shapes:
        return np.zeros(grid.shape, bool)
    return np.asarray(features.rasterize(shapes, grid.shape, transform=grid.transform, dtype="uint8") > 0)


__all__ = ["Ground", "open_and_closed", "open_mask", "polygons_only"]

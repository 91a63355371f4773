"""Read everything that a study names: cleaned, on one metric CRS, with one analysis grid."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from habitat.errors import LayerError
from habitat.grid import Grid
from habitat.layers import shapes as make
from habitat.layers.columns import SHAPES
from habitat.layers.crs import crs_label, mover, settle_crs
from habitat.layers.ids import settle_ids
from habitat.layers.mapping import map_columns
from habitat.layers.meet import Extent, check_meeting, extent_of
from habitat.layers.money import tell_currencies
from habitat.layers.people import join_people, match_rows
from habitat.layers.places import find_places
from habitat.layers.plants import drop_far_plants, place_points
from habitat.layers.raster import extent_of_raster, note_coverage, open_raster
from habitat.layers.raw import Draft, refuse_if_nothing_left
from habitat.layers.roles import settle_roles
from habitat.layers.tape import is_tape, read_tape
from habitat.layers.types import Layers, Note, VectorLayer
from habitat.layers.vector import open_layer
from habitat.layers.yards import drop_far_yards, measure, settle_metric_crs, yard_frame
from habitat.study import Study

Progress = Callable[[str, int, int], None]
EDGE_M = 50.0
"""Ground around the yards that the grid covers: what stands there shades them."""

MATCHED = ("participants", "soil_tests")


MAY_BE_EMPTY = ("plants", "sightings", "soil_tests", "growers")
"""Tables that a new folder holds to be filled in; empty, they mean that there is nothing to say."""


def read_layers(study: Study, progress: Progress | None = None) -> Layers:
    """Read, check, repair and align every layer and raster of a study.

    Parameters
    ----------
    study
        As ``habitat.study.read_study`` gives it.
    progress
        Called with (words, done, total).

    Returns
    -------
    Layers
        Every row accounted for: rows in = used + repaired + set aside.

    Raises
    ------
    LayerError, CrsError, RasterError
        If a file cannot be read, a CRS is missing or impossible, or layers describe different places.

    Examples
    --------
    >>> import habitat
    >>> layers = read_layers(habitat.read_study("sample_geodata"))
    >>> len(layers.yards), layers.crs.to_epsg()
    (225, 32617)
    """
    total = len(study.layers) + len(study.rasters) + 2
    tell = progress or (lambda _words, _done, _total: None)
    drafts: dict[str, Draft] = {}
    for done, name in enumerate(study.layers):
        tell(f"reading {name}", done, total)
        drafts |= _open_clean(study, name)
    rasters = {}
    for done, (name, raster) in enumerate(study.rasters.items(), len(study.layers)):
        tell(f"reading {name}", done, total)
        rasters[name] = open_raster(study, name, raster)
    tell_currencies(drafts)
    tell("bringing layers together", total - 2, total)
    crs, told, extent = _settle_yards(study, drafts["yards"])
    others = [e for n, d in drafts.items() if n != "yards" and (e := extent_of(d)) is not None]
    check_meeting(extent, others + [extent_of_raster(r) for r in rasters.values()])
    drop_far_plants(drafts.get("plants"), extent)
    vectors = _align(drafts, crs)
    yards = vectors["yards"].frame
    west, south, east, north = yards.total_bounds
    bounds = (west - EDGE_M, south - EDGE_M, east + EDGE_M, north + EDGE_M)
    grid = Grid.from_bounds(bounds, study.study.cell_m, crs)
    tell("looking at rasters", total - 1, total)
    rasters = {name: note_coverage(r, yards, grid) for name, r in rasters.items()}
    tell("layers read", total, total)
    return Layers(study, crs, grid, vectors, rasters, (Note(None, told, 0),))


def _open_clean(study: Study, name: str) -> dict[str, Draft]:
    """Open one layer; a table of tape measurements gives several at once."""
    source = study.layers[name]
    draft = open_layer(study, name, source)
    draft.set_aside(draft.row_faults)
    if is_tape(draft):
        found = read_tape(draft)
        opened = {n: d for n, d in found.items() if n == name or n not in study.layers}
    else:
        if draft.shapes is None and SHAPES[name] != "none":
            find_places(draft, source)
        opened = {name: draft}
    for one in opened.values():
        _clean(one, study)
    return opened


def _clean(draft: Draft, study: Study) -> None:
    source = study.layers.get(draft.name, study.layers["yards"])
    name, kind = draft.name, SHAPES[draft.name]
    if draft.own_format != "tape":
        map_columns(draft, source)
    if draft.rows_in == 0:
        if name == "yards":
            raise LayerError(
                "the yards layer has no rows", draft.where, "Check the file and which of its layers is read"
            )
        draft.tell("it has no rows", harm=0 if name in MAY_BE_EMPTY else 2)
    if draft.shapes is None:
        if kind != "none" and name not in (*MATCHED, "plants", "sightings"):
            raise LayerError(
                f"layer {name!r} has no shapes or places: no shape column and no longitude and latitude "
                "(lon, lat)",
                draft.where,
                f"Name them: geometry, or x and y, under layers.{name}; columns: "
                f"{', '.join(map(str, draft.table.columns[:20]))}",
            )
        draft.set_aside({r: why for r, why in draft.shape_faults.items() if r in draft.table.index})
    else:
        make.flatten(draft)
        settle_crs(draft, source)
        if len(draft.table):
            {"polygon": make.to_polygons, "point": make.to_points}.get(kind, make.check_any)(draft)
    settle_roles(draft)
    refuse_if_nothing_left(draft)


def _settle_yards(study: Study, yards: Draft) -> tuple[CRS, str, Extent]:
    drop_far_yards(yards)
    crs, told = settle_metric_crs(study, yards)
    extent = extent_of(yards)
    assert extent is not None
    return crs, told, extent


def _align(drafts: dict[str, Draft], crs: CRS) -> dict[str, VectorLayer]:
    """Bring every layer onto the metric CRS, then join what belongs to yards."""
    sources = {name: _source_crs(draft) for name, draft in drafts.items()}
    for draft in drafts.values():
        _reproject(draft, crs)
    yards = drafts["yards"]
    settle_ids(yards)
    found = measure(yards)
    frame = yard_frame(yards, crs, found.yard_m2)
    for name, draft in drafts.items():
        if name in MATCHED and draft.rows_in:
            match_rows(draft, frame, yards.details.get("ambiguous_ids", {}))
            refuse_if_nothing_left(draft)
        elif name in ("plants", "trees", "sightings"):
            place_points(draft, frame)
            refuse_if_nothing_left(draft)
    people = drafts.get("participants")
    if people is not None and not people.rows_in:
        people.tell("every yard is taken as a member, since nobody is in the table", harm=2)
    frame = join_people(frame, people)
    out = {"yards": yards.finish(frame, crs, sources["yards"])}
    for name, draft in drafts.items():
        if name != "yards":
            out[name] = draft.finish(_frame(draft, crs), crs, sources[name])
    return {name: out[name] for name in drafts}


def _source_crs(draft: Draft) -> str | None:
    if draft.shapes is None or draft.crs is None:
        return None
    return "measured by tape" if draft.own_format == "tape" else crs_label(draft.crs)


def _reproject(draft: Draft, crs: CRS) -> None:
    if draft.shapes is None or draft.crs is None:
        return
    if draft.crs != crs and len(draft.shapes):
        move = mover(draft.crs, crs)
        there = np.flatnonzero(~shapely.is_missing(draft.shapes))
        before = draft.shapes[there]
        moved = shapely.transform(before, lambda c: np.column_stack(move.transform(c[:, 0], c[:, 1])))
        lost = ~np.isfinite(shapely.bounds(moved)).all(axis=1)
        draft.set_aside(
            {
                int(draft.table.index[i]): "its place cannot be brought into the metric CRS"
                for i in there[lost]
            }
        )
        kept = ~shapely.is_missing(draft.shapes)
        draft.shapes[kept] = moved[~lost]
    draft.crs = crs
    if SHAPES[draft.name] == "polygon" and len(draft.shapes):
        _mend_again(draft)


def _mend_again(draft: Draft) -> None:
    """Mend polygons that the rounding of the reprojection has made invalid."""
    assert draft.shapes is not None
    for i in np.flatnonzero(~shapely.is_valid(draft.shapes)):
        mended = make.repair_polygon(draft.shapes[i])
        draft.shapes[i] = mended if mended is not None else shapely.make_valid(draft.shapes[i])


def _frame(draft: Draft, crs: CRS) -> gpd.GeoDataFrame | pd.DataFrame:
    if draft.shapes is None:
        return draft.table
    return gpd.GeoDataFrame(
        draft.table, geometry=gpd.GeoSeries(draft.shapes, index=draft.table.index, crs=crs)
    )

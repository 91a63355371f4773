"""Read everything that a study names: each layer opened, cleaned, joined on one metric CRS."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from habitat.arrays import Shapes
from habitat.errors import HabitatError, LayerError, RasterError, together
from habitat.grid import Grid
from habitat.layers import shapes as make
from habitat.layers.cells.columns import SHAPES
from habitat.layers.cells.garden_wishes import settle_wishes
from habitat.layers.cells.ids import settle_ids
from habitat.layers.cells.mapping import map_columns
from habitat.layers.cells.money import tell_currencies
from habitat.layers.cells.places import find_places
from habitat.layers.cells.roles import settle_roles
from habitat.layers.cells.soil_words import classes_in_words
from habitat.layers.cells.walk_words import settle_walk
from habitat.layers.crs import WGS84, choose_metric_crs, crs_label, mover, settle_crs
from habitat.layers.formats.raw import Draft, refuse_if_nothing_left
from habitat.layers.formats.tape import is_tape, read_tape, tape_settings
from habitat.layers.formats.vector import open_layer
from habitat.layers.join.matches import Kept, match_rows, read_matches
from habitat.layers.join.meet import Extent, extent_of, layers_apart
from habitat.layers.join.more_yards import More, join_more, more_files
from habitat.layers.join.parcel_changes import change_parcels
from habitat.layers.join.people import join_people
from habitat.layers.join.plants import drop_far_rows, place_points
from habitat.layers.join.yards import drop_far_yards, measure, places_of, settle_metric_crs, yard_frame
from habitat.layers.rasters.opening import open_raster
from habitat.layers.rasters.window import extent_of_raster, note_coverage
from habitat.layers.size import around, refuse_beyond
from habitat.layers.types import Layers, Parts, RasterLayer, VectorLayer
from habitat.progress import Progress
from habitat.remarks import Note
from habitat.settings.layers import Sources

MATCHED = ("participants", "soil_tests", "walk")
"""Tables whose rows each belong to a yard."""

MORE = "more_yards"

EDGE_M = 50.0
"""Ground around the yards that the grid covers [m]: what stands there shades them."""

MAY_BE_EMPTY = ("plants", "sightings", "soil_tests", "growers", "season", "matches", "walk")
"""Tables that a new folder holds to be filled in; empty, they mean that there is nothing to say."""


def open_clean(sources: Sources, name: str) -> dict[str, Draft]:
    """Open one layer; a table of tape measurements gives several at once."""
    draft = open_layer(sources, name)
    draft.set_aside(draft.row_faults)
    if is_tape(draft):
        found = read_tape(draft)
        opened = {n: d for n, d in found.items() if n == name or n not in sources.vectors}
    else:
        if draft.shapes is None and SHAPES[name] != "none":
            find_places(draft, sources.vectors[name])
        opened = {name: draft}
    for one in opened.values():
        _clean(one, sources)
    return opened


def open_more(sources: Sources, near: tuple[float, float]) -> list[More]:
    """Open what ``layers.more_yards`` names; what gives no place of its own is read as if it lay ``near``.

    Raises
    ------
    LayerError
        If a file is no tape table or sketch, or cannot be worked out; several of them come together.
    """
    source, out, faults = sources.vectors[MORE], [], []
    for path, shown in more_files(sources.resolve(source.path), source.path):
        here = source.model_copy(update={"path": str(path.absolute())})
        try:
            draft = open_layer(replace(sources, vectors={"yards": here}), "yards")
            draft.where = shown
            if not is_tape(draft):
                mend = "Name tape tables ('habitat new --yard') or sketches ('habitat sketch')"
                raise LayerError("this is no tape table and no sketch of a yard", shown, mend)
            drafts = read_tape(draft, near)
            for one in drafts.values():
                _clean(one, sources)
            out.append(More(shown, tape_settings(draft), drafts))
        except HabitatError as error:
            faults.append(error)
    if faults:
        raise together(faults)
    return out


def _clean(draft: Draft, sources: Sources) -> None:
    source = sources.vectors.get(draft.name, sources.vectors["yards"])
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
        _refuse_without_yards(draft)
        draft.set_aside({r: why for r, why in draft.shape_faults.items() if r in draft.table.index})
    else:
        make.flatten(draft)
        settle_crs(draft, source)
        if len(draft.table):
            {"polygon": make.to_polygons, "point": make.to_points}.get(kind, make.check_any)(draft)
    settle_roles(draft)
    settle_wishes(draft)
    classes_in_words(draft)
    settle_walk(draft)
    refuse_if_nothing_left(draft)


def _refuse_without_yards(draft: Draft) -> None:
    """Stop where no row can have a place: no column names one, nor a yard."""
    if draft.name not in ("plants", "soil_tests") or {"yard_id", "address"} & set(draft.table.columns):
        return
    if draft.rows_in and not draft.shape_faults:
        raise LayerError(
            f"layer {draft.name!r} does not say where its rows belong: no columns of longitude and latitude "
            "(lon, lat), of x and y, or of shapes, and none of yard ids or addresses",
            draft.where,
            f'Name them under layers.{draft.name}: x and y, geometry, or columns = {{ yard_id = "..." }}; '
            f"columns: {', '.join(map(str, draft.table.columns[:20]))}",
        )


@dataclass(slots=True)
class _Reading:
    """What has been read so far; what stops at an error leaves the rest to be read."""

    sources: Sources
    drafts: dict[str, Draft] = field(default_factory=dict)
    rasters: dict[str, RasterLayer] = field(default_factory=dict)
    more: list[More] = field(default_factory=list)
    faults: dict[str, HabitatError] = field(default_factory=dict)
    at: Callable[[str], None] = lambda _key: None

    @contextmanager
    def opening(self, key: str) -> Iterator[None]:
        """Keep the error of a file that is opened, memory that it asks for and does not get among them."""
        self.at(key)
        section, _, name = key.partition(".")
        raster = section == "rasters"
        with self.part(key):
            try:
                yield
            except MemoryError:
                source = self.sources.rasters[name] if raster else self.sources.vectors[name]
                error: type[HabitatError] = RasterError if raster else LayerError
                raise error(
                    f"{key} takes more memory than there is, or than limits.memory_mb "
                    f"({self.sources.memory_mb:,.0f} MB) grants",
                    source.path,
                    "Leave out what is not needed, or raise limits.memory_mb in the study",
                ) from None

    @contextmanager
    def part(self, key: str) -> Iterator[None]:
        """Keep the error of one layer or raster, and leave it out from there on."""
        try:
            yield
        except HabitatError as error:
            self.fail(key, error)

    def fail(self, key: str, error: HabitatError) -> None:
        """Leave a layer or raster out, with the error that tells why."""
        self.faults[key] = error
        section, _, name = key.partition(".")
        (self.drafts if section == "layers" else self.rasters).pop(name, None)


def read_layers(sources: Sources, progress: Progress | None = None) -> Layers:
    """Read, check, repair and align every layer and raster that is named.

    Parameters
    ----------
    sources
        What to read, and the grid to bring it onto.
    progress
        Called with (words, done, total).

    Returns
    -------
    Layers
        Every row accounted for: rows in = used + repaired + rows set aside.

    Raises
    ------
    LayerError, CrsError, RasterError
        If a file cannot be read, a CRS is missing or impossible, or layers describe different places;
        several of them come together, in one SeveralError.

    Examples
    --------
    >>> from pathlib import Path
    >>> from habitat.settings.layers import RasterSource, VectorSource
    >>> parcels = VectorSource(path="town.gpkg", layer="yards", columns={"yard_id": "parcel"})
    >>> soil = RasterSource(path="ph.tif")
    >>> layers = read_layers(Sources({"yards": parcels}, {"ph": soil}, Path("sample_geodata"), cell_m=2.0))
    >>> len(layers.yards), layers.crs.to_epsg(), sorted(layers.rasters)
    (225, 32617, ['ph'])
    """
    parts = read_parts(sources, progress)
    if parts.faults:
        raise together(list(parts.faults.values()))
    layers = parts.whole()
    assert layers is not None  # without faults there are yards
    return layers


def read_parts(
    sources: Sources,
    progress: Progress | None = None,
    missing: dict[str, HabitatError] | None = None,
    at: Callable[[str], None] | None = None,
) -> Parts:
    """Read every layer and raster that can be read, and keep the errors of those that cannot.

    Parameters
    ----------
    missing
        Errors by key ("layers.plants") of files that are known not to be there: these are not tried.
    at
        Called with the key of each file before it is read, and with "" before all are brought together.
    """
    total = len(sources.vectors) + len(sources.rasters) + 2
    tell = progress or (lambda _words, _done, _total: None)
    found = _Reading(sources, faults=dict(missing or {}), at=at or (lambda _key: None))
    for done, name in enumerate(sources.vectors):
        tell(f"reading {name}", done, total)
        if f"layers.{name}" not in found.faults and name != MORE:
            with found.opening(f"layers.{name}"):
                found.drafts |= open_clean(sources, name)
    for done, name in enumerate(sources.rasters, len(sources.vectors)):
        tell(f"reading {name}", done, total)
        if f"rasters.{name}" not in found.faults:
            with found.opening(f"rasters.{name}"):
                found.rasters[name] = open_raster(sources, name)
    found.at("")
    tell_currencies(found.drafts)
    tell("bringing layers together", total - 2, total)
    crs, told = _settle_place(found)
    vectors = _align(found, crs, everyone=sources.everyone) if "yards" in found.drafts else {}
    if "yards" not in vectors:
        return _without_yards(found, vectors)
    yards = vectors["yards"].frame
    with found.part("layers.yards"):
        refuse_beyond(yards, EDGE_M, sources.cell_m, sources.memory_mb, sources.vectors["yards"].path)
    if "layers.yards" in found.faults:
        return _without_yards(found, vectors)
    grid = Grid.from_bounds(around(yards.geometry.bounds.to_numpy(), EDGE_M), sources.cell_m, crs)
    tell("looking at rasters", total - 1, total)
    for name, opened in list(found.rasters.items()):
        with found.opening(f"rasters.{name}"):
            found.rasters[name] = note_coverage(opened, yards, grid)
    tell("layers read", total, total)
    return Parts(crs, grid, vectors, found.rasters, (Note(None, told, 0),), found.faults)


def _settle_place(found: _Reading) -> tuple[CRS, str]:
    """Return the metric CRS that the yards call for, and leave out what lies elsewhere."""
    crs, told = WGS84, ""
    with found.part("layers.yards"):
        if "yards" in found.drafts:
            crs, told, extent = _settle_yards(found.sources, found.drafts["yards"])
            _leave_out_apart(found, extent)
            for name, draft in found.drafts.items():
                if name not in ("yards", *MATCHED):  # rows of these may name their yard, wherever they lie
                    drop_far_rows(draft, extent)
            if MORE in found.sources.vectors and f"layers.{MORE}" not in found.faults:
                with found.opening(f"layers.{MORE}"):
                    lon, lat = np.median(places_of(found.drafts["yards"]), axis=0)
                    found.more = open_more(found.sources, (float(lon), float(lat)))
    return crs, told


def _leave_out_apart(found: _Reading, yards: Extent) -> None:
    others = [e for n, d in found.drafts.items() if n != "yards" and (e := extent_of(d)) is not None]
    for name, raster in list(found.rasters.items()):
        with found.part(f"rasters.{name}"):
            others.append(extent_of_raster(raster))
    for key, error in layers_apart(yards, others).items():
        found.fail(key, error)


def _without_yards(found: _Reading, vectors: dict[str, VectorLayer]) -> Parts:
    """Return what there is to tell of the other layers if the yards cannot be used."""
    crs = None
    for draft in found.drafts.values():
        if crs is None and draft.shapes is not None and extent_of(draft) is not None:
            crs = choose_metric_crs(*places_of(draft).T)
    for name, draft in found.drafts.items():
        if name not in vectors and name != "yards":
            with found.part(f"layers.{name}"):
                source = _source_crs(draft)
                _reproject(draft, crs or WGS84)
                vectors[name] = draft.finish(_frame(draft, crs or WGS84), crs or WGS84, source)
    told = "the yards cannot be used: what else was read was looked at by itself, and joined to no yard"
    return Parts(None, None, vectors, found.rasters, (Note(None, told, 3),), found.faults)


def _settle_yards(sources: Sources, yards: Draft) -> tuple[CRS, str, Extent]:
    drop_far_yards(yards)
    crs, told = settle_metric_crs(sources, yards)
    extent = extent_of(yards)
    assert extent is not None
    return crs, told, extent


def _align(found: _Reading, crs: CRS, *, everyone: bool) -> dict[str, VectorLayer]:
    """Bring every layer onto the metric CRS, then join what belongs to yards; nothing without the yards."""
    drafts, out = found.drafts, {}
    sources = {name: _source_crs(draft) for name, draft in drafts.items()}
    with found.part("layers.yards"):
        _reproject(drafts["yards"], crs)
        settle_ids(drafts["yards"])
        _change_yards(found, crs)
        frame = yard_frame(drafts["yards"], crs, measure(drafts["yards"]).yard_m2)
    if "yards" not in drafts:
        return {}
    houses = drafts["buildings"].shapes if "buildings" in drafts else None
    said = read_matches(drafts.get("matches"), frame, drafts["yards"].details)
    for name, draft in list(drafts.items()):
        with found.part(f"layers.{name}"):
            if name != "yards":
                _join(draft, frame, houses, drafts["yards"].details, said)
    people = drafts.get("participants")
    if people is not None and not people.rows_in and not everyone:
        people.tell("nobody takes part, since nobody is in the table", harm=2)
    frame = join_people(frame, people, everyone=everyone)
    for name, draft in drafts.items():
        out[name] = draft.finish(frame if name == "yards" else _frame(draft, crs), crs, sources.get(name))
    return out


def _change_yards(found: _Reading, crs: CRS) -> None:
    """Bring all layers onto the metric CRS, add what more yards draw, and join and split parcels."""
    drafts, outlines = found.drafts, {}
    for name, draft in list(drafts.items()):
        with found.part(f"layers.{name}"):
            if name != "yards":
                _reproject(draft, crs)
    if found.more:
        for one in found.more:
            for draft in one.drafts.values():
                _reproject(draft, crs)
        with found.part(f"layers.{MORE}"):
            outlines = join_more(drafts, found.more, found.sources.vectors[MORE].path)
    if "parcel_changes" in drafts:
        with found.part("layers.parcel_changes"):
            change_parcels(drafts["yards"], drafts["parcel_changes"], crs, outlines)


def _join(
    draft: Draft, yards: gpd.GeoDataFrame, houses: Shapes | None, details: Mapping[str, Any], said: Kept
) -> None:
    """Give the rows of a layer their yard, where its rows have one."""
    if draft.name in MATCHED and draft.rows_in:
        match_rows(draft, yards, details, said)
        refuse_if_nothing_left(draft)
    elif draft.name in ("plants", "trees", "sightings"):
        place_points(draft, yards, houses, details)
        refuse_if_nothing_left(draft)


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

"""The results of an earlier run, read back: which plans stay as they are, and what was settled on the way."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely
from pyproj import CRS
from pyproj.exceptions import CRSError
from shapely.geometry import MultiPoint

from habitat.errors import LayerError
from habitat.layers.formats.results import read_results
from habitat.layers.types import Layers
from habitat.planting.settled import BY_HAND, MARKS, Carried, Settled, living_of, marks_of
from habitat.planting.types import Drawn
from habitat.remarks import Remark, Subject, remark
from habitat.report.package.carried import read_carried_of
from habitat.report.package.tables import TABLES as LAYERS
from habitat.report.words.en import english
from habitat.report.written import sha256_of
from habitat.revision.deciding import read_run
from habitat.revision.decisions import Decisions, decisions_file, read_decisions
from habitat.revision.season import Season, read_season
from habitat.study.model import Study
from habitat.terms import DRAFT, KEPT, MEMBER, OTHER, PLANNED, PLANTED, REFUSED

TABLES = ("yards", "existing_plants", "beds", "plantings", "plant_points", "yard_results")
UNEDITED = ("yards", "existing_plants")
"""Of these only a few columns are read, which no edit needs."""

OUTLINE_M = 0.1
"""Outlines that moved less are the same: the county's rounding, not a survey (judgement)."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """Results of an earlier run of this study.

    Parameters
    ----------
    folder, run
        Where they are, and what their run.json says.
    sha256
        Of run.json: by it a later run names this one.
    tables
        Tables of plan.gpkg by name, as they are now, edits included.
    decisions, as_came
        What people decided since, and the files it stands in, by name, as they came.
    carried
        What the run settled on the way.
    season
        What the season form tells since.
    """

    folder: Path
    run: dict[str, Any]
    sha256: str
    tables: dict[str, gpd.GeoDataFrame]
    decisions: Decisions
    as_came: dict[str, bytes]
    carried: Carried
    season: Season = field(default_factory=lambda: Season({}))

    @property
    def year(self) -> int:
        """Year of the date of the run, 0 if it states none."""
        date = str(self.run.get("date") or "")
        return int(date[:4]) if date[:4].isdigit() else 0

    def having(self, *words: str) -> frozenset[str]:
        """Return the yards with one of some statuses."""
        return frozenset(y for y, status in self.decisions.status().items() if status in words)

    @property
    def planned(self) -> frozenset[str]:
        """Yards that had a plan."""
        return frozenset(self.tables["yard_results"]["yard_id"].astype(str))

    @property
    def kept(self) -> frozenset[str]:
        """Yards whose plans stay as they are: those decided on, and drafts that somebody changed by hand."""
        status = self.decisions.status()
        decided = {y for y, word in status.items() if word in KEPT}
        handmade = {y for y in self.by_hand if status.get(y) not in REFUSED}
        return frozenset((decided | handmade) & self.planned)

    @property
    def by_hand(self) -> frozenset[str]:
        """Yards of whose plans somebody changed something by hand."""
        tables = (self.tables[name] for name in ("beds", "plantings", "plant_points"))
        marked = (t.loc[t[BY_HAND].fillna(False).astype(bool), "yard_id"] for t in tables if BY_HAND in t)
        return frozenset(str(yard) for rows in marked for yard in rows)

    def named(self) -> dict[str, str]:
        """Return how run.json names this run."""
        return {"folder": self.folder.name, "run_sha256": self.sha256}


def read_earlier(folder: Path, study: Study, layers: Layers, *, season: bool = True) -> Earlier:
    """Read the results of an earlier run of a study.

    ``season`` says whether the study's season form is of these results; it is not where they are drawn
    anew, since they were planned by it.

    Raises
    ------
    MissingFileError
        If a file is missing that a run for a group writes.
    LayerError
        If it was a run for the public, of another study, or on another CRS; or if a file cannot be read.
    """
    folder = folder.absolute()
    about = read_run(folder)
    _refuse_others(about, folder, study, layers.crs)
    file = decisions_file(folder)
    carried, tables = read_carried_of(folder), _tables(folder)
    form = study.layers.get("season")
    named = Path(form.path).name if form is not None else ""
    told = _season(layers, carried, tables, named) if season else Season({})
    decided = read_decisions(file, layers.yards)
    decisions = _planted(decided.joined(_signed_up(layers) | decided.joining), told, tables)
    answered = matches_file(folder)
    came = {one.name: one.read_bytes() for one in (file, answered) if one is not None}
    source = study.layers.get("season") if season else None
    if source is not None and study.resolve(source.path).is_file():
        came[f"season{Path(source.path).suffix}"] = study.resolve(source.path).read_bytes()
    return Earlier(folder, about, sha256_of(folder / "run.json"), tables, decisions, came, carried, told)


def matches_file(folder: Path) -> Path | None:
    """Return the file of matches in results, or the workbook that somebody saved it as; None without either.

    Raises
    ------
    LayerError
        If there are both, since nobody can tell which holds the last word.
    """
    there = [p for p in (folder / "matches.csv", folder / "matches.xlsx") if p.is_file()]
    if len(there) > 1:
        raise LayerError("there is a matches.xlsx beside matches.csv", str(folder), "Keep the one that holds")
    return there[0] if there else None


def _signed_up(layers: Layers) -> set[str]:
    """Return the members that the sign-up sheet names."""
    people, yards = layers.frame("participants"), layers.yards
    listed = set() if people is None else set(people["yard_id"].dropna().astype(str))
    return listed & set(yards.loc[yards["role"] == MEMBER, "yard_id"])


def _season(layers: Layers, carried: Carried, tables: dict[str, gpd.GeoDataFrame], file: str) -> Season:
    """Return what the study's season form tells of the plantings of earlier results."""
    living, rows = living_of(tables["existing_plants"]), tables["plantings"]
    counts = dict(zip(rows["planting_id"], rows["count"].fillna(0).astype(int), strict=True))
    counts |= living.groupby("planting_id").size().to_dict()
    yards = dict(zip(rows["planting_id"], rows["yard_id"], strict=True))
    yards |= dict(zip(living["planting_id"], living["yard_id"], strict=True))
    marks = marks_of(carried.drawn, tables["existing_plants"])
    return read_season(layers.frame("season"), marks, counts, yards, file or "season form")


def _planted(decisions: Decisions, season: Season, tables: dict[str, gpd.GeoDataFrame]) -> Decisions:
    """Return decisions in which yards are planted of which a form tells that something was."""
    yards = dict(zip(tables["plantings"]["planting_id"], tables["plantings"]["yard_id"], strict=True))
    told = {yards[key] for key, one in season.told.items() if key in yards and (one.planted or one.alive)}
    status = decisions.status()
    new = sorted(yard for yard in told if status.get(yard, DRAFT) != PLANTED)
    if not new:
        return decisions
    notes = tuple(remark("planted_by_form", Subject(yards=(y,)), status=status.get(y, DRAFT)) for y in new)
    return replace(decisions.planted(new), notes=(*decisions.notes, *notes))


def _refuse_others(about: dict[str, Any], folder: Path, study: Study, crs: CRS) -> None:
    where = str(folder)
    if about.get("audience") == "public":
        what = "these results are for the public: their yards have numbers of their own"
        raise LayerError(what, where, "Name results of the group's own run (--audience group)")
    if about.get("study") != study.study.name:
        what = f"these are results of another study, {about.get('study')!r}, not of {study.study.name!r}"
        raise LayerError(what, where, "Name results of this study, or give both the same name under [study]")
    was = about.get("crs")
    if not isinstance(was, str) or not _is(was, crs):
        what = f"these results are in {was}, the study is in {crs.to_string()} now"
        raise LayerError(what, where, f"Set crs = {str(was)!r} under [study]")


def _is(text: str, crs: CRS) -> bool:
    """Return whether a text names a CRS."""
    try:
        return bool(CRS.from_user_input(text) == crs)
    except CRSError:
        return False


def _tables(folder: Path) -> dict[str, gpd.GeoDataFrame]:
    return {name: _typed(name, read_results(folder / "plan.gpkg", name), folder) for name in TABLES}


def _typed(name: str, table: gpd.GeoDataFrame, folder: Path) -> gpd.GeoDataFrame:
    """Return a layer with its numbers as numbers, whatever a program that edited it made of them.

    Raises
    ------
    LayerError
        If a column is gone, or a cell that should hold a number does not.
    """
    where, table = f"{folder / 'plan.gpkg'}, layer {name}", table.copy()
    for column, kind, _, _ in next(t.columns for t in LAYERS if t.name == name):
        if column not in table:
            if column in MARKS or (name in UNEDITED and column != "yard_id"):
                continue
            raise LayerError(f"the column {column} is gone", where, "Put the column back, or the whole file")
        if kind not in ("int", "float") or pd.api.types.is_numeric_dtype(table[column]):
            continue
        cells = table[column].where(table[column].astype(str).str.strip() != "", None)
        numbers = pd.to_numeric(cells, errors="coerce")
        wrong = cells.notna() & numbers.isna()
        if wrong.any():
            at = int(wrong.to_numpy().argmax())
            what = f"in row {at + 1}, {column} is {cells.iloc[at]!r}, which is no number"
            raise LayerError(what, where, "Put the number back")
        table[column] = numbers
    return table


def kept_plans(earlier: Earlier, yard_ids: Collection[str]) -> Settled:
    """Return the plans of an earlier run that stay as they are.

    Parameters
    ----------
    earlier
        The run.
    yard_ids
        Whose plans stay.
    """
    ids, tables = set(yard_ids), earlier.tables
    plantings = _rows(tables["plantings"], ids)
    empty = plantings.geometry.isna() | plantings.geometry.is_empty
    plantings["geometry"] = plantings.geometry.where(~empty, MultiPoint())
    results = _rows(tables["yard_results"], ids)
    results["relaxed"] = [
        _as_remarks(text, earlier.carried.relaxed.get(yard, ()))
        for yard, text in zip(results["yard_id"], results["relaxed"], strict=True)
    ]
    drawn = Drawn(_rows(tables["beds"], ids), plantings, _rows(tables["plant_points"], ids))
    return Settled(drawn, pd.DataFrame(results), earlier.having(PLANTED) & ids)


def _rows(table: gpd.GeoDataFrame, ids: set[str]) -> gpd.GeoDataFrame:
    """Return the rows of some yards as a run makes them: no collection of one part, no null text."""
    mine = table[table["yard_id"].isin(ids)].reset_index(drop=True)
    for column in mine.columns:
        if mine[column].dtype == object and column not in ("geometry", *MARKS):
            mine[column] = mine[column].fillna("")
    if "geometry" in mine:
        mine["geometry"] = [_single(shape) for shape in mine.geometry]
        if (mine.geometry.geom_type == "Point").all() and "planting_id" in mine and "point_id" not in mine:
            mine["geometry"] = [MultiPoint([p]) for p in mine.geometry]
    return mine


def _single(shape: Any) -> Any:
    """Return a polygon that a package stores as a collection of one."""
    if shape is not None and shape.geom_type == "MultiPolygon" and shapely.get_num_geometries(shape) == 1:
        return shapely.get_geometry(shape, 0)
    return shape


def _as_remarks(text: Any, told: tuple[Remark, ...]) -> tuple[Remark, ...] | str:
    """Return remarks whose words a table holds; the words themselves if somebody changed them."""
    if not isinstance(text, str) or not text:
        return ()
    try:
        return told if told and english()(told) == text else text
    except (KeyError, TypeError):  # another version said it in other words
        return text


def settled_layers(layers: Layers, earlier: Earlier) -> tuple[Layers, tuple[Remark, ...]]:
    """Return layers with the outlines of kept plans, with those who joined since and without who said no.

    Returns
    -------
    tuple
        The layers, which kept yards have another outline now, who said no but is on the sign-up sheet, and
        who joined by ``decisions.csv`` alone.
    """
    yards = layers.yards
    was = earlier.tables["yards"].drop_duplicates("yard_id").set_index("yard_id")
    shapes, areas, notes = list(yards.geometry), list(yards["area_m2"]), []
    for k, yard in enumerate(yards["yard_id"]):
        if yard not in earlier.kept or yard not in was.index:
            continue
        shape = _single(was.geometry[yard])
        if shape.equals_exact(shapes[k], 0.0):
            continue
        moved = float(shapely.hausdorff_distance(shape.boundary, shapes[k].boundary))
        if moved > OUTLINE_M:
            notes.append(remark("outline_moved", Subject(yards=(yard,)), moved_m=moved))
        shapes[k], areas[k] = shape, float(was["area_m2"][yard])
    declined = yards["yard_id"].isin(earlier.having(*REFUSED)) & yards["role"].isin(PLANNED)
    again = yards.loc[declined & yards["yard_id"].isin(_signed_up(layers)), "yard_id"]
    status = earlier.decisions.status()
    notes += [remark("refused_but_signed", Subject(yards=(y,)), status=status[y]) for y in again]
    refused = yards["yard_id"].isin(earlier.having(*REFUSED))
    joins = yards["yard_id"].isin(earlier.decisions.joining) & ~refused
    new = tuple(yards.loc[joins & (yards["role"] != MEMBER), "yard_id"])
    notes += [remark("joined_by_decision", Subject(yards=new))] if new else []
    role = yards["role"].where(~declined, OTHER).where(~joins, MEMBER)
    frame = yards.set_geometry(gpd.GeoSeries(shapes, index=yards.index, crs=yards.crs))
    frame = frame.assign(role=role, area_m2=areas)
    vectors = layers.vectors | {"yards": replace(layers.vectors["yards"], frame=frame)}
    return replace(layers, vectors=vectors), tuple(notes)

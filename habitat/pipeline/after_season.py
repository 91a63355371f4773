"""What forms tell of a season, put to use: what lives stands, what died is replaced, and both are counted."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

import geopandas as gpd
import pandas as pd
from shapely.geometry import MultiPoint

from habitat.pipeline.plant_facts import PlantFacts
from habitat.pipeline.planting import Groundwork
from habitat.planting.settled import PLANTED_IN, Settled, living_of
from habitat.planting.standing import living_crown_m2, standing_fit
from habitat.planting.types import Drawn
from habitat.planting.years.survival import ENOUGH_CASES, Lot, kind_of_ground, observed
from habitat.remarks import Remark, Subject, remark
from habitat.revision.changes import fit_of_plantings
from habitat.revision.earlier import Earlier
from habitat.revision.season import Told
from habitat.site.types import GROWTH_FORM

Row = dict[Any, Any]
AGAIN = re.compile(r"-r(\d+)$")
"""Ends the id of a planting that replaces another."""

LOOSE = "loose"
"""Marks plants of a planting that was never placed."""


@dataclass(frozen=True, slots=True)
class Grown:
    """Plans one season on.

    settled : with what lives taken out and gaps to fill put in. living : rows of ``existing_plants``, one a
    plant. survival : lots of all seasons. notes : what there is to tell.
    """

    settled: Settled
    living: gpd.GeoDataFrame
    survival: tuple[Lot, ...]
    notes: tuple[Remark, ...]


def grow_on(request: Groundwork, earlier: Earlier, settled: Settled) -> Grown:
    """Return plans of an earlier run as they stand after a season, by what forms tell.

    What lives becomes a standing plant at its place, with its age; what died is to be planted once more, and
    a plant that replaces one and died too gives way to one that was seen to live better on such ground. What
    nobody told of stays as it was.

    Parameters
    ----------
    request
        The stages before planting.
    earlier
        The run before, with the forms.
    settled
        Its plans that are kept.
    """
    living = living_of(earlier.tables["existing_plants"])
    if not settled.planted and not len(living):
        notes = earlier.season.notes
        return Grown(settled, living, earlier.carried.survival, notes)
    season = _SeasonOn(request, earlier, settled)
    season.read_plantings()
    season.read_living()
    return season.grown()


@dataclass(slots=True)
class _SeasonOn:
    request: Groundwork
    earlier: Earlier
    settled: Settled
    plantings: list[Row] = field(default_factory=list)
    points: list[Row] = field(default_factory=list)
    living: list[Row] = field(default_factory=list)
    lots: list[Lot] = field(default_factory=list)
    notes: list[Remark] = field(default_factory=list)
    gaps: list[tuple[Row, list[Row]]] = field(default_factory=list)

    @property
    def year(self) -> int:
        date = self.request.study.study.date
        return 0 if date is None else date.year

    def read_plantings(self) -> None:
        """Part each planting into what lives, what is missing, and what nobody told of."""
        drawn = self.settled.drawn
        mine = {str(key): rows.to_dict("records") for key, rows in drawn.points.groupby("planting_id")}
        ground = self._ground(drawn.points)
        passed = max(0, self.year - self.earlier.year)
        for row in pd.DataFrame(drawn.plantings).to_dict("records"):
            key, spots = str(row["planting_id"]), mine.get(str(row["planting_id"]), [])
            told = self.earlier.season.told.get(key, Told())
            if row["yard_id"] not in self.settled.planted:
                self._stay(row, spots, None)
            elif row["year"] > 1 and told == Told():
                self._stay(row | {"year": max(1, int(row["year"]) - passed)}, spots, None)
            elif told.alive is None:
                self._stay(row, spots, None if told.planted == 0 else self._planted_in(row, told))
                if told.planted is not None and told.planted < row["count"]:
                    self._few_planted(row, told.planted)
            else:
                self._live_on(row, spots, told, ground.get(key, ""))

    def _planted_in(self, row: Row, told: Told) -> int:
        """Return the year in which a planting was planted: as told, as known, or that of the run before."""
        known = row.get(PLANTED_IN)
        return told.year or (self.earlier.year if known is None or pd.isna(known) else int(known))

    def _stay(self, row: Row, spots: list[Row], planted_in: int | None) -> None:
        self.plantings.append(row | {PLANTED_IN: planted_in})
        self.points += spots

    def _few_planted(self, row: Row, planted: int) -> None:
        about, of = Subject(yards=(str(row["yard_id"]),)), int(row["count"])
        key = str(row["planting_id"])
        self.notes.append(remark("planted_not_counted", about, planting=key, planted=planted, of=of))

    def _live_on(self, row: Row, spots: list[Row], told: Told, ground: str) -> None:
        count, alive = int(row["count"]), min(int(told.alive or 0), int(row["count"]))
        year = self._planted_in(row, told)
        if told.planted and year >= self.earlier.year:  # else more than a year has passed
            self.lots.append(Lot(row["plant"], row["form"], ground, told.planted, min(alive, told.planted)))
        where = spots or self._loose(row, count)
        self.living += [self._stands(row, p["geometry"], year) for p in where[:alive]]
        self._fill(row, where[alive:], told)

    def read_living(self) -> None:
        """Carry on what lived when the run before was made, in yards whose plan is a draft again too."""
        kept, known = set(self.settled.results["yard_id"]), set(self.request.layers.yards["yard_id"])
        had = living_of(self.earlier.tables["existing_plants"])
        for key, rows in had[had["yard_id"].isin(known)].groupby("planting_id", sort=True):
            told = self.earlier.season.told.get(str(key), Told())
            spots = rows.to_dict("records")
            alive = len(spots) if told.alive is None else min(told.alive, len(spots))
            self.living += [self._stands(p, p["geometry"], int(p["planted_in"])) for p in spots[:alive]]
            if spots[0]["yard_id"] in kept:  # elsewhere the yard is planned anew around what lives
                self._fill(spots[0], spots[alive:], told)

    def _loose(self, row: Row, count: int) -> list[Row]:
        """Return places for plants that were never placed: the middle of their yard."""
        yards = self.request.layers.yards
        middle = yards.loc[yards["yard_id"] == row["yard_id"]].geometry.iloc[0].representative_point()
        return [{"geometry": middle, "yard_id": row["yard_id"], LOOSE: True}] * count

    def _stands(self, row: Row, spot: Any, year: int) -> Row:
        """Return a row of ``existing_plants`` for a plant that lives."""
        knowledge, plant = self.request.knowledge, str(row["plant"])
        seasons = max(1, self.year - year)
        return {
            "row": None, "yard_id": row["yard_id"], "plant": plant,
            "name_given": str(knowledge.plants.loc[plant, "common_name"]), "count": 1.0,
            "crown_m2": living_crown_m2(knowledge, plant, str(row["form"]), seasons),
            "butterflies": "; ".join(knowledge.eaters_of(plant)["butterfly"]), "geometry": spot,
            "planting_id": row["planting_id"], "bed_id": row["bed_id"], "form": row["form"],
            "planted_in": year, "seasons": seasons,
        }  # fmt: skip

    def _fill(self, row: Row, gone: list[Row], told: Told) -> None:
        """Note what is to be planted where plants died, unless a household has replaced them."""
        if not gone:
            return
        instead = PlantFacts(self.request).plant(told.replaced_by) if told.replaced_by else None
        if instead is not None:
            key = self._next_id(str(row["planting_id"]))
            own = row | {"plant": instead, "planting_id": key, "form": "plug"}
            self.living += [self._stands(own, p["geometry"], self.year) for p in gone]
            return
        if told.replaced_by:
            about = Subject(yards=(str(row["yard_id"]),))
            self.notes.append(
                remark("replaced_by_unknown", about, planting=row["planting_id"], name=told.replaced_by)
            )
        self.gaps.append((row, gone))

    def _next_id(self, key: str) -> str:
        base, taken = AGAIN.sub("", key), {str(r["planting_id"]) for r in (*self.plantings, *self.living)}
        taken |= {str(k) for k in self.settled.drawn.plantings["planting_id"]}
        taken |= set(living_of(self.earlier.tables["existing_plants"])["planting_id"])
        return next(name for k in range(1, 10_000) if (name := f"{base}-r{k}") not in taken)

    def _ground(self, points: gpd.GeoDataFrame) -> dict[str, str]:
        """Return the kind of ground of each planting, by its first plant."""
        site = self.request.site
        raster = site.rasters.get("drainage") if "drainage" in site.assessed else None
        first = points.drop_duplicates("planting_id")
        if raster is None or not len(first):
            return {}
        rows, cols = site.grid.rowcol(first.geometry.x.to_numpy(), first.geometry.y.to_numpy())
        rows, cols = rows.clip(0, site.grid.shape[0] - 1), cols.clip(0, site.grid.shape[1] - 1)
        keys: list[str] = [str(key) for key in first["planting_id"]]
        return dict(zip(keys, kind_of_ground(raster[rows, cols]), strict=True))

    def grown(self) -> Grown:
        """Return the plans with their gaps to be filled."""
        survival, drawn = (*self.earlier.carried.survival, *self.lots), self.settled.drawn
        ground, facts = self._ground(drawn.points), PlantFacts(self.request)
        for row, gone in self.gaps:
            key = str(row["planting_id"])
            plant = (
                self._instead(row, gone, survival, ground.get(key, "")) if AGAIN.search(key) else row["plant"]
            )
            self._replace(row, gone, plant, facts)
        existing = gpd.GeoDataFrame(
            pd.DataFrame(self.living, columns=LIVING_COLUMNS), geometry="geometry", crs=drawn.points.crs
        )
        points, plantings = _like(self.points, drawn.points), _like(self.plantings, drawn.plantings)
        fit = fit_of_plantings(points, self.request.site, self.request.needs)
        plantings["fit"] = plantings["fit"].fillna(plantings["planting_id"].map(fit))
        settled = replace(self.settled, drawn=Drawn(drawn.beds, plantings, points))
        told = len(self.earlier.season.told)
        summary = [
            remark("season_told", rows=told, alive=len(self.living), gaps=sum(len(g) for _, g in self.gaps))
        ]
        return Grown(
            settled, existing, survival, (*self.earlier.season.notes, *(summary if told else ()), *self.notes)
        )

    def _replace(self, row: Row, gone: list[Row], plant: str, facts: PlantFacts) -> None:
        """Add a planting for what died, at its places."""
        key, same = self._next_id(str(row["planting_id"])), plant == row["plant"]
        form = str(row["form"]) if same else ""
        new = facts.row(plant, form, len(gone))
        crown_m = new.pop("crown_m")
        new |= {
            "planting_id": key,
            "yard_id": row["yard_id"],
            "bed_id": row["bed_id"],
            "count": len(gone),
            "year": 1,
        }
        new |= {
            "fit": row.get("fit", math.nan) if same else math.nan,
            PLANTED_IN: None,
            "why": _why(row, gone, same),
        }
        new["geometry"] = MultiPoint([p["geometry"] for p in gone])
        self.plantings.append(new)
        if gone[0].get(LOOSE):
            new["geometry"] = MultiPoint()
            return
        shared = {c: new[c] for c in ("planting_id", "bed_id", "yard_id", "height_m")}
        shared |= {"plant": plant, "crown_m": crown_m, "key_number": self._number(str(row["yard_id"]), plant)}
        for k, point in enumerate(gone, start=1):
            self.points.append(shared | {"point_id": f"{key}-{k:03d}", "geometry": point["geometry"]})

    def _number(self, yard: str, plant: str) -> int:
        """Return the number that a plant has on its yard's sheet, the next free one if it has none."""
        was = self.settled.drawn.points.to_dict("records")
        numbers = {
            str(p["plant"]): int(p["key_number"]) for p in (*was, *self.points) if p["yard_id"] == yard
        }
        return numbers.get(plant, max(numbers.values(), default=0) + 1)

    def _instead(self, row: Row, gone: list[Row], survival: Iterable[Lot], ground: str) -> str:
        """Return a plant that was seen to live better on such ground, the same one again if none was."""
        plant, table = str(row["plant"]), observed(survival)
        table = table[(table["ground"] == ground) & (table["planted"] >= ENOUGH_CASES)]
        own = table.loc[table["plant"] == plant, "share"].max()
        better = table[table["share"] > (0.0 if math.isnan(own) else own)]
        able = [
            p for p in better.sort_values("low", ascending=False)["plant"] if self._alike(plant, str(p), gone)
        ]
        about = Subject(yards=(str(row["yard_id"]),), plants=(plant,))
        other = str(able[0]) if able else plant
        self.notes.append(
            remark("replaced_twice", about, planting=row["planting_id"], instead=other, ground=ground)
        )
        return other

    def _alike(self, plant: str, other: str, gone: list[Row]) -> bool:
        """Return whether a plant may stand for another: its habit, food for one of the same, and its fit."""
        plants, needs = self.request.knowledge.plants, self.request.needs
        one, two = (GROWTH_FORM[str(plants["form"][p])] for p in (plant, other))
        if plant == other or one != two:
            return False
        fed = [set(self.request.knowledge.eaters_of(p)["butterfly"]) for p in (plant, other)]
        if other not in needs.plants or (fed[0] and not fed[0] & fed[1]):
            return False
        rows = {"plant": other, "yard_id": [p["yard_id"] for p in gone]}
        spots = gpd.GeoDataFrame(rows, geometry=[p["geometry"] for p in gone])
        return bool(standing_fit(spots, self.request.site, needs).mean() >= needs.class_limits[2])


LIVING_COLUMNS = [
    "row", "yard_id", "plant", "name_given", "count", "crown_m2", "butterflies", "geometry", "planting_id",
    "bed_id", "form", "planted_in", "seasons",
]  # fmt: skip


def _why(row: Row, gone: list[Row], same: bool) -> str:
    many = f"{len(gone)} that did not live"
    return f"Replaces {many}." if same else f"In place of {row['plant']}, of which {many}, twice."


def _like(rows: list[Row], like: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    columns = [*(c for c in like.columns if c not in ("geometry", PLANTED_IN))]
    columns += [PLANTED_IN] if any(row.get(PLANTED_IN) is not None for row in rows) else []
    data = pd.DataFrame([{c: row.get(c) for c in columns} for row in rows], columns=columns)
    for column in columns:
        if pd.api.types.is_numeric_dtype(like.get(column)):
            data[column] = pd.to_numeric(data[column])
    return gpd.GeoDataFrame(data, geometry=[row["geometry"] for row in rows], crs=like.crs)

"""What grows in each yard as one table: what stands already, with crowns estimated, and what is planned."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, partial

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from habitat.knowledge import Knowledge, resolve_plants
from habitat.knowledge.broods import STANDING, HostStand
from habitat.knowledge.genera import stands_for
from habitat.planting.choice.facts import covered_per_plant_m2, drift_cover_m2
from habitat.planting.types import Drawn
from habitat.planting.years.growth import crown_diameter_m, growth_share
from habitat.remarks import Remark, Subject, remark
from habitat.site.types import GROWTH_FORM, Site
from habitat.suitability import fit
from habitat.suitability.types import Needs

COLUMNS = ["row", "yard_id", "plant", "name_given", "count", "crown_m2", "butterflies", "geometry"]


def existing_plants(
    yards: gpd.GeoDataFrame,
    knowledge: Knowledge,
    *,
    plants: gpd.GeoDataFrame | None = None,
    trees: gpd.GeoDataFrame | None = None,
    keep: gpd.GeoDataFrame | None = None,
) -> tuple[gpd.GeoDataFrame, tuple[Remark, ...]]:
    """Return the table ``existing_plants`` and remarks on names that the tables do not know as they are.

    Parameters
    ----------
    yards
        yard_id and geometry, which tell where a record without a yard_id stands.
    knowledge
        The plant tables.
    plants, trees, keep
        Records in the yards' CRS: plant (name), count, crown_m [m], yard_id, geometry; all but geometry may
        be missing. Of trees and of what is kept only rows count that name a plant: kept beds and plants stay
        as they are and count like those that stand.

    Returns
    -------
    existing
        row (of its layer, from 0), yard_id, plant, name_given, count, crown_m2 [m2], butterflies, geometry.
        A kept bed of one plant without a count is taken as full at the plant's spacing. A name that is not
        in the tables stays, with ``plant`` missing: it shades and takes room but counts for no butterfly. The
        name of a whole genus ("old oak") counts as a species that feeds what all of the genus feed.
        Crown area is the measured crown where given, else count x the disc of the mature spread (no more
        than a kept bed), else NaN.
    notes
        A remark per name that was corrected or is not known.
    """
    layers = {"plants": plants, "trees": trees, "keep": keep}
    found = [_records(name, frame, yards) for name, frame in layers.items() if frame is not None]
    frames = [records for records in found if records is not None]
    records = pd.concat(frames, ignore_index=True) if frames else _empty(yards)
    matches = resolve_plants(records["name_given"].tolist(), knowledge)
    counted = [stands_for(match, knowledge) for match in matches]
    records["plant"] = pd.Series(counted, index=records.index, dtype=object)
    records["count"] = _counts(records, knowledge)
    records["crown_m2"] = _crown_m2(records, knowledge)
    records["butterflies"] = [_eaters(plant, knowledge) for plant in records["plant"]]
    notes = tuple(
        remark(
            "plant_name_noted",
            Subject(layers=(str(layer),), rows=(int(row),)),
            row=int(row) + 1,
            name_note=match.note,
            how=match.how,
            accepted=match.accepted is not None,
        )
        for layer, row, match in zip(records["layer"], records["row"], matches, strict=True)
        if match.note
    )
    frame = gpd.GeoDataFrame(records[COLUMNS], geometry="geometry", crs=yards.crs)
    return frame, notes


def _empty(yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    columns = ["layer", "row", "yard_id", "name_given", "count", "crown_m", "bed_m2", "geometry"]
    frame = pd.DataFrame({c: pd.Series(dtype=object) for c in columns})
    return gpd.GeoDataFrame(frame, geometry="geometry", crs=yards.crs)


def _records(name: str, frame: gpd.GeoDataFrame, yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame | None:
    if "plant" not in frame or frame.empty:
        return None
    named = frame if name == "plants" else frame[frame["plant"].notna()]
    out = gpd.GeoDataFrame(
        {
            "layer": name,
            "row": named.index,
            "name_given": named["plant"].fillna("").astype(str),
            "count": _numbers(named, "count"),
            "crown_m": _numbers(named, "crown_m"),
            "bed_m2": named.geometry.area if name == "keep" else 0.0,
        },
        geometry=gpd.GeoSeries(named.geometry.centroid.values, index=named.index),
        crs=yards.crs,
    )
    out["yard_id"] = named["yard_id"] if "yard_id" in named else _yard_of(out, yards)
    return out


def _numbers(frame: pd.DataFrame, column: str) -> pd.Series[float]:
    if column not in frame:
        return pd.Series(np.nan, index=frame.index)
    return pd.to_numeric(frame[column], errors="coerce")


def _yard_of(points: gpd.GeoDataFrame, yards: gpd.GeoDataFrame) -> pd.Series[str]:
    """Return the yard each point lies in; the first in yard order where several do, None outside all."""
    joined = gpd.sjoin(
        points[["geometry"]], yards[["yard_id", "geometry"]], how="left", predicate="intersects"
    )
    first = joined[~joined.index.duplicated()]["yard_id"]
    return first.reindex(points.index).astype(object).where(lambda s: s.notna(), None)


def yards_with_trees(yards: gpd.GeoDataFrame, trees: gpd.GeoDataFrame | None) -> NDArray[np.bool_]:
    """Return whether a tree of any kind stands in each yard (n,), named or not: it is bark to winter in.

    trees : points or crowns [in the yards' CRS]; the middle of a crown stands for the trunk. None: no layer.
    """
    if trees is None or trees.empty:
        return np.zeros(len(yards), bool)
    places = gpd.GeoDataFrame(geometry=gpd.GeoSeries(trees.geometry.centroid.values), crs=yards.crs)
    held = set(_yard_of(places, yards).dropna())
    return np.array([yard_id in held for yard_id in yards["yard_id"]], bool)


def _counts(records: pd.DataFrame, knowledge: Knowledge) -> pd.Series[float]:
    """Return the counts given; 1 where none is, and a kept bed's room at the plant's spacing."""
    cell = np.sqrt(0.75) * records["plant"].map(knowledge.plants["spacing_m"]).astype(float) ** 2
    full = np.floor(records["bed_m2"].astype(float) / cell).fillna(0.0).clip(lower=1.0)
    return records["count"].astype(float).fillna(full)


def _crown_m2(records: pd.DataFrame, knowledge: Knowledge) -> pd.Series[float]:
    spread = records["plant"].map(knowledge.plants["spread_m"]).astype(float)
    across = records["crown_m"].astype(float).fillna(spread)
    crowns = np.pi / 4.0 * across**2 * records["count"].astype(float)
    bed = records["bed_m2"].astype(float)
    return crowns.where((bed <= 0) | (crowns < bed), bed)


def _eaters(plant: str | None, knowledge: Knowledge) -> str:
    return "; ".join(knowledge.eaters_of(plant)["butterfly"]) if plant else ""


# What grows in each yard as one table: what stands already, and what is planned.


@dataclass(frozen=True, slots=True)
class Crowns:
    """The plants of a state as arrays (n,), those of one yard side by side.

    kinds : plant names; plant : index into them. lots : plant, form and year of planting; lot : index into
    them. rows : yard_id -> slice. The rest as in ``standing_table``.
    """

    kinds: tuple[str, ...]
    plant: NDArray[np.int64]
    xy: NDArray[np.float64]
    radius_m: NDArray[np.float64]
    fit: NDArray[np.float64]
    count: NDArray[np.float64]
    cover_m2: NDArray[np.float64]
    bed_id: NDArray[np.object_]
    lots: tuple[tuple[str, str, int], ...]
    lot: NDArray[np.int64]
    rows: dict[str, slice]

    def stands(self, rows: NDArray[np.int64]) -> list[HostStand]:
        """Return what some rows hold, a stand for each plant, form and year of planting."""
        count = np.bincount(self.lot[rows], self.count[rows], len(self.lots))
        return [
            HostStand(plant=plant, count=float(n), form=form, planted_year=year)
            for (plant, form, year), n in zip(self.lots, count, strict=True)
            if n > 0
        ]


def crowns(table: pd.DataFrame) -> Crowns:
    """Return a table of plants as arrays, sorted by yard."""
    table = table.sort_values("yard_id", kind="stable")
    code, kinds = pd.factorize(table["plant"], sort=True)
    lot, lots = pd.factorize(pd.MultiIndex.from_frame(table[["plant", "form", "year"]]), sort=True)
    yards = table["yard_id"].to_numpy(object)
    starts = np.flatnonzero(np.r_[True, yards[1:] != yards[:-1]]) if len(yards) else np.empty(0, int)
    stops = np.r_[starts[1:], len(yards)].astype(int)[: len(starts)]
    return Crowns(
        tuple(kinds),
        code.astype(np.int64),
        table[["x", "y"]].to_numpy(float),
        table["radius_m"].to_numpy(float),
        table["fit"].to_numpy(float),
        table["count"].to_numpy(float),
        table["cover_m2"].to_numpy(float),
        table["bed_id"].to_numpy(object),
        tuple((str(plant), str(form), int(year)) for plant, form, year in lots),
        lot.astype(np.int64),
        {str(yards[a]): slice(int(a), int(b)) for a, b in zip(starts, stops, strict=True)},
    )


def standing_fit(existing: gpd.GeoDataFrame, site: Site, needs: Needs) -> NDArray[np.float64]:
    """Return the lower-bound fit [0-1] of standing plants (n,) at their places; 1 if not planned with."""
    out = np.ones(len(existing))
    order = {plant: p for p, plant in enumerate(needs.plants)}
    kind = np.array([order.get(p, -1) for p in existing["plant"]], int)
    if not (kind >= 0).any():
        return out
    places = shapely.get_coordinates(shapely.centroid(existing.geometry.to_numpy()))
    rows, cols = site.grid.rowcol(places[:, 0], places[:, 1])
    rows, cols = np.clip(rows, 0, site.grid.shape[0] - 1), np.clip(cols, 0, site.grid.shape[1] - 1)
    values = {name: raster[rows, cols][None, :] for name, raster in site.rasters.items()}
    low = low_at_places(needs, site, values, existing["yard_id"])
    known = kind >= 0
    out[known] = low[kind[known], np.flatnonzero(known)] / 255.0
    return out


def low_at_places(
    needs: Needs, site: Site, values: dict[str, NDArray[np.float32]], yard_ids: pd.Series[str]
) -> NDArray[np.uint8]:
    """Return the lower-bound fit x 255 (plants, places); what a yard's soil test gave is not doubted there.

    values : factor -> float32 ``(1, places)``, NaN where unknown. yard_ids : the yard of each place.
    """
    low = fit(needs, values, shape=(1, len(yard_ids))).low[:, 0]
    if "doubt" not in needs.tables:
        return low
    tested = [site.tested_in(str(yard_id)) for yard_id in yard_ids]
    for factors in sorted({t for t in tested if t}):
        places = np.flatnonzero([t == factors for t in tested])
        here = {name: np.ascontiguousarray(v[:, places]) for name, v in values.items()}
        low[:, places] = fit(needs.exactly(factors), here, shape=(1, len(places))).low[:, 0]
    return low


def living_crown_m2(knowledge: Knowledge, plant: str, form: str, seasons: int) -> float:
    """Return the crown [m2] of a plant that was planted so many seasons ago."""
    growth = GROWTH_FORM[str(knowledge.plants["form"][plant])]
    across_m = float(knowledge.plants["spread_m"][plant]) * growth_share(growth, seasons, form)
    return math.pi / 4.0 * across_m**2


def _grown_m2(known: gpd.GeoDataFrame, knowledge: Knowledge, years_on: int) -> pd.Series[float]:
    """Return crowns, those of plants with an age as they are some years on."""
    area = known["crown_m2"].astype(float)
    if not years_on or "seasons" not in known:
        return area
    aged = known[known["seasons"].notna()]
    size = cache(partial(living_crown_m2, knowledge))
    rows = zip(aged["plant"], aged["form"], aged["seasons"], aged["count"], strict=True)
    later = [n * size(str(p), str(f), int(s) + years_on) for p, f, s, n in rows]
    return pd.Series(later, index=aged.index, dtype=float).reindex(area.index).fillna(area)


def standing_table(existing: gpd.GeoDataFrame, knowledge: Knowledge, *, years_on: int = 0) -> pd.DataFrame:
    """Return what stands already, a row per record of a known plant in a yard, with crowns as they are.

    Plants with an age (``seasons``, those that a plan set in earlier years) grow; ``years_on`` asks for them
    so many years from now.

    Columns: yard_id, plant, x, y, radius_m (of a disc as large as all crowns of the record), fit [0-1],
    count, cover_m2 (NaN: the disc counts), bed_id, form, year (of planting), standing.
    """
    known = existing[existing["plant"].notna() & existing["yard_id"].notna()] if len(existing) else existing
    spread = known["plant"].map(knowledge.plants["spread_m"]).astype(float)
    area = _grown_m2(known, knowledge, years_on)
    area = area.fillna(math.pi / 4.0 * spread**2 * known["count"].astype(float))
    return pd.DataFrame(
        {
            "yard_id": known["yard_id"].astype(str),
            "plant": known["plant"].astype(str),
            "x": known.geometry.x,
            "y": known.geometry.y,
            "radius_m": np.sqrt(area / math.pi),
            "fit": known["fit"].fillna(1.0).astype(float) if "fit" in known else 1.0,
            "count": known["count"].astype(float),
            "cover_m2": np.nan,
            "bed_id": known["bed_id"].fillna("") if "bed_id" in known else "",
            "form": STANDING,
            "year": 1,
            "standing": True,
        }
    )


def planned_table(
    drawn: Drawn, yards: Mapping[str, BaseGeometry], knowledge: Knowledge, plan_year: int
) -> pd.DataFrame:
    """Return what is planned, a row per plant (per planting if unplaced), with crowns of the plan year.

    Parameters
    ----------
    drawn
        Beds, plantings and points of all yards.
    yards
        yard_id -> geometry, whose inside stands for the place of plantings that were not placed.
    knowledge
        The plant tables.
    plan_year
        Year of the plan, 1 for the first, at whose end crowns are counted.

    Returns
    -------
    pandas.DataFrame
        Columns as in ``standing_table``; plantings that were not placed have ``cover_m2``, not a radius.
    """
    plantings = drawn.plantings.set_index("planting_id")
    kinds = plantings[["plant", "form", "year"]].itertuples(index=False)
    size = _crown_size(knowledge, plan_year)
    crown = dict(zip(plantings.index, (size(*kind) for kind in kinds), strict=True))
    fits = plantings["fit"].astype(float).fillna(1.0)  # counted in full where nothing was assessed
    points = drawn.points
    own = points["planting_id"]
    placed = pd.DataFrame(
        {
            "yard_id": points["yard_id"].astype(str),
            "plant": points["plant"].astype(str),
            "x": points.geometry.x,
            "y": points.geometry.y,
            "radius_m": own.map(crown).astype(float) / 2.0,
            "fit": own.map(fits),
            "count": 1.0,
            "cover_m2": np.nan,
            "bed_id": points["bed_id"].astype(str),
            "form": own.map(plantings["form"]).astype(str),
            "year": own.map(plantings["year"]).astype(int),
            "standing": False,
        }
    )
    loose = plantings[~plantings.index.isin(set(own))]
    middle = [yards[str(y)].representative_point() for y in loose["yard_id"]]
    unplaced = pd.DataFrame(
        {
            "yard_id": loose["yard_id"].astype(str),
            "plant": loose["plant"].astype(str),
            "x": [p.x for p in middle],
            "y": [p.y for p in middle],
            "radius_m": 0.0,
            "fit": loose.index.map(fits),
            "count": loose["count"].astype(float),
            "cover_m2": [_loose_cover(row, crown[i]) for i, row in loose.iterrows()],
            "bed_id": "",
            "form": loose["form"].astype(str),
            "year": loose["year"].astype(int),
            "standing": False,
        }
    )
    return pd.concat([f for f in (placed, unplaced) if len(f)] or [placed], ignore_index=True)


def _crown_size(knowledge: Knowledge, plan_year: int) -> Callable[[str, str, int], float]:
    """Return a function of plant, form and year of planting: the crown [m] in the plan year."""
    spread, habit = knowledge.plants["spread_m"].to_dict(), knowledge.plants["form"].to_dict()

    @cache
    def size(plant: str, form: str, year: int) -> float:
        growth = GROWTH_FORM[str(habit[plant])]
        return crown_diameter_m(float(spread[plant]), growth, plan_year, int(year), form)

    return size


def _loose_cover(row: pd.Series, crown_m: float) -> float:
    inner = covered_per_plant_m2(crown_m, float(row["spacing_m"]))
    return drift_cover_m2(int(row["count"]), math.pi / 4.0 * crown_m**2, inner)

"""What to buy, for the group and per yard: trays, spares, seed windows, and substitutes."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.knowledge import resolve_plants
from habitat.knowledge.seeds import seeds_per_gram
from habitat.planting.standing import low_at_places
from habitat.planting.supply import Offer, price_list, read_offers
from habitat.planting.years.survival import spare_shares
from habitat.report.lists.buying import KEYS, in_ground, seed_grams, sums, to_buy
from habitat.report.lists.joined import planting_yards
from habitat.report.plan import Plan
from habitat.report.rows import each_row, row_of
from habitat.report.words.forms import packets
from habitat.report.words.months import month_set, month_words
from habitat.report.words.text import counted, csv_cell, listed
from habitat.site.types import GROWTH_FORM
from habitat.study.fitting import needs_of

PLACES_SHARE = 0.8
"""A substitute must be at least moderately suitable at this share of the places: judgement."""

MOST = 2
"""How many substitutes are named."""


@dataclass(frozen=True)
class Substitutes:
    """Looks substitutes up for the plants of a plan; the fit of all plants at all places is made once."""

    plan: Plan

    def of(self, plant: str) -> tuple[str, ...]:
        """Return up to two plants, best first, that could stand in for a plant wherever it is planned.

        They are of its growth form, not taller than half as much again, no keener to spread, carry no hazard
        that it does not carry, feed at least one butterfly of the wishes that it feeds (or, where it feeds
        none, flower in at least half its months) and fit at 80 % of its places. At a tie those on the
        growers' list come first, then names decide.
        """
        plants = self.plan.knowledge.plants
        if plant not in plants.index:
            return ()
        able = [p for p in plants.index if p != plant and self._alike(plant, p) and self._fits(plant, p)]
        worth = {p: self._worth(plant, p) for p in able}
        best = sorted((p for p in able if worth[p] > 0), key=lambda p: (-worth[p], p not in self._offered, p))
        return tuple(best[:MOST])

    @functools.cached_property
    def _offered(self) -> frozenset[str]:
        return frozenset(grower_offers(self.plan))

    @functools.cached_property
    def _rows(self) -> dict[str, dict[str, Any]]:
        return {str(r["scientific_name"]): r for r in self.plan.knowledge.plants.to_dict(orient="records")}  # type: ignore[misc]

    @functools.cached_property
    def _eaters(self) -> dict[str, frozenset[str]]:
        hosts = self.plan.knowledge.host_plants
        wishes = set(self.plan.yard_butterflies["butterfly"]) or set(hosts["butterfly"])
        mine = hosts[hosts["butterfly"].isin(wishes)]
        return {str(p): frozenset(b) for p, b in mine.groupby("plant")["butterfly"]}

    def _alike(self, plant: str, other: str) -> bool:
        one, two = self._rows[plant], self._rows[other]
        if GROWTH_FORM[one["form"]] != GROWTH_FORM[two["form"]] or two["height_m"] > 1.5 * one["height_m"]:
            return False
        if other in self.plan.study.planting.exclude or (
            _true(two["aggressive_spread"]) and not _true(one["aggressive_spread"])
        ):
            return False
        return _hazards(two) <= _hazards(one)

    def _worth(self, plant: str, other: str) -> float:
        fed = self._eaters.get(plant, frozenset())
        if fed:
            return len(fed & self._eaters.get(other, frozenset())) / len(fed)
        one, two = self._rows[plant], self._rows[other]
        if not (one["nectar_value"] > 0 and two["nectar_value"] > 0):
            return 0.0
        months = month_set(f"{one['bloom_start_month']:.0f}-{one['bloom_end_month']:.0f}")
        same = months & month_set(f"{two['bloom_start_month']:.0f}-{two['bloom_end_month']:.0f}")
        share = len(same) / len(months)
        return share if share >= 0.5 else 0.0

    def _fits(self, plant: str, other: str) -> bool:
        names, scores = self._scores
        places = self._places.get(plant)
        if places is None or other not in names:
            return False
        at_least = self.plan.study.suitability.class_limits[1]
        return float((scores[names[other], places] >= at_least * 255).mean()) >= PLACES_SHARE

    @functools.cached_property
    def _places(self) -> dict[str, NDArray[np.int64]]:
        points = self.plan.plant_points["plant"].reset_index(drop=True)
        return {str(p): np.asarray(rows, np.int64) for p, rows in points.groupby(points).groups.items()}

    @functools.cached_property
    def _scores(self) -> tuple[dict[str, int], NDArray[np.uint8]]:
        """Return plant -> row, and the lower-bound fit x 255 of every plant at every planned place."""
        site = self.plan.site
        needs = needs_of(self.plan.study, self.plan.knowledge, site.assessed, site.by_tests)
        low = low_at_places(needs, site, sample(self.plan), self.plan.plant_points["yard_id"])
        return {name: k for k, name in enumerate(needs.plants)}, low


def grower_offers(plan: Plan) -> dict[str, Offer]:
    """Return the growers' best offer by plant; empty without such a layer."""
    prices = price_list(plan.study.planting, str(plan.study.path))
    return read_offers(plan.layers.frame("growers"), plan.knowledge, prices)[0]


def sample(plan: Plan) -> dict[str, NDArray[np.float32]]:
    """Return the site's factors at every planned point, float32 ``(1, points)``, NaN where unknown."""
    grid, points = plan.site.grid, plan.plant_points.geometry
    if points.empty:
        return {name: np.empty((1, 0), np.float32) for name in plan.site.assessed}
    cols = np.floor((points.x.to_numpy() - grid.transform.c) / grid.cell_m).astype(int)
    rows = np.floor((grid.transform.f - points.y.to_numpy()) / grid.cell_m).astype(int)
    inside = (rows >= 0) & (rows < grid.shape[0]) & (cols >= 0) & (cols < grid.shape[1])
    out = {}
    for name in plan.site.assessed:
        values = np.full(len(points), np.nan, np.float32)
        values[inside] = plan.site.rasters[name][rows[inside], cols[inside]]
        out[name] = values[None, :]
    return out


def _true(value: object) -> bool:
    return str(value).strip().lower() in ("true", "1", "1.0", "yes")


def _hazards(row: dict[str, Any]) -> frozenset[str]:
    return frozenset(h.strip() for h in str(row["hazards"]).split(";")) - {"none", "", "nan"}


# What to buy: for the whole group and per yard, with trays, spares, substitutes and seed windows.

NO_SUBSTITUTE = "none found"

SEED_NOTE = ", only with the landowner's leave and never of protected plants"

COLUMNS = [
    "list",
    "yard_id",
    "year",
    "plant",
    "common_name",
    "form",
    "count",
    "spares",
    "to_buy",
    "trays",
    "singles",
    "packets",
    "seed_g",
    "cost_each",
    "cost",
    "butterflies",
    "growers",
    "substitutes",
    "seed_collecting",
    "note",
]
COULD_JOIN = "yard that could join"
"""List of the plants of yards that take no part yet."""


def write_shopping(plan: Plan, path: Path) -> Path:
    """Write shopping.csv: what the whole group buys, then what each yard gets, then what yet others would.

    Text is quoted so that no spreadsheet takes it for a formula; UTF-8 with a byte order mark, so that
    spreadsheets read accents right.
    """
    table = shopping_table(plan).map(csv_cell)
    path.write_text(table.to_csv(index=False, lineterminator="\r\n"), encoding="utf-8-sig", newline="")
    return path


def shopping_table(plan: Plan) -> pd.DataFrame:
    """Return what to buy, columns COLUMNS: rows of list "whole group" first, then of list "yard".

    The group buys for the yards that take part; what the others are planned to grow follows as list "yard
    that could join" and is in no sum of the group's. ``to_buy`` is ``count`` and spares, plugs rounded up to
    full trays where few singles would be left; ``packets`` is what is bought of seed, and
    ``seed_g`` its weight where that is known [g of pure live seed]. For yards ``to_buy`` is
    their plants without spares, since spares are bought for the group. ``cost`` is ``to_buy`` times
    ``cost_each``.
    """
    plantings = pd.DataFrame(plan.plantings.drop(columns="geometry", errors="ignore"))
    plantings = plantings[~in_ground(plantings)]
    if plantings.empty:
        return pd.DataFrame(columns=COLUMNS)
    planted = plantings["yard_id"].isin(planting_yards(plan))
    tables = [_group(plan, plantings[planted]), _yards(plan, plantings[planted], "yard")]
    if not planted.all():
        tables.append(_yards(plan, plantings[~planted], COULD_JOIN))
    return pd.concat(tables, ignore_index=True)[COLUMNS]


def _group(plan: Plan, plantings: pd.DataFrame) -> pd.DataFrame:
    shares = {} if plan.carried is None else spare_shares(plan.carried.survival)
    table = to_buy(plantings, shares)
    seen = [shares.get((p, f)) for p, f in zip(table["plant"], table["form"], strict=True)]
    table["packets"], table["seed_g"] = _packets(plan, table), _seed_g(plan, table)
    instead, eaters = Substitutes(plan), _eaters(plan)
    table["butterflies"] = [listed(eaters.get(p, [])) for p in table["plant"]]
    table["substitutes"] = [
        "; ".join(_both(plan, s) for s in instead.of(p)) or NO_SUBSTITUTE for p in table["plant"]
    ]
    table["seed_collecting"] = [_seed(plan, p) for p in table["plant"]]
    offers = None if plan.layers.frame("growers") is None else grower_offers(plan)
    months = _months(plan)
    growers = [_growers(offers, months, row) for row in each_row(table)]
    table["growers"], table["note"] = [g[0] for g in growers], [g[1] for g in growers]
    table["note"] = [_with_spares(note, share) for note, share in zip(table["note"], seen, strict=True)]
    table["list"], table["yard_id"] = "whole group", ""
    return table


def _yards(plan: Plan, plantings: pd.DataFrame, which: str) -> pd.DataFrame:
    order = {y: k for k, y in enumerate(plan.yards["yard_id"])}
    table = sums(plantings, ["yard_id", *KEYS])
    table = table.sort_values("yard_id", key=lambda s: s.map(order), kind="stable")
    eaters = _eaters(plan)
    table["butterflies"] = [listed(eaters.get(p, [])) for p in table["plant"]]
    table["to_buy"] = table["count"]
    table["packets"], table["seed_g"] = _packets(plan, table), _seed_g(plan, table)
    table["list"] = which
    for column in ("spares", "trays", "singles"):
        table[column] = 0
    for column in ("growers", "substitutes", "seed_collecting", "note"):
        table[column] = ""
    return table


def _with_spares(note: str, share: float | None) -> str:
    """Return a note with the spares that the group's own counts ask for."""
    told = "" if share is None else f"spares of {share:.0%} by how many lived in your yards"
    return "; ".join(filter(None, [note, told]))


def _packets(plan: Plan, table: pd.DataFrame) -> list[int]:
    """Return the packets of what is bought as seed, 0 for all else."""
    spacing = plan.knowledge.plants["spacing_m"].to_dict()
    return [
        packets(int(row.to_buy), float(spacing[row.plant])) if row.form == "seed" else 0
        for row in each_row(table)
    ]


def _seed_g(plan: Plan, table: pd.DataFrame) -> list[str]:
    """Return the grams of what is bought as seed, where its weight is known; else blank."""
    spacing, weights = plan.knowledge.plants["spacing_m"].to_dict(), seeds_per_gram()
    return [
        f"{seed_grams(row.to_buy, float(spacing[row.plant]), weights[row.plant]):.2g}"
        if row.form == "seed" and row.plant in weights
        else ""
        for row in each_row(table)
    ]


def _eaters(plan: Plan) -> dict[str, list[str]]:
    """Return common names of the butterflies of this plan by host plant."""
    hosts = plan.knowledge.host_plants
    wishes = set(plan.yard_butterflies["butterfly"])
    names = plan.knowledge.butterflies["common_name"]
    out: dict[str, list[str]] = {}
    for row in each_row(hosts[hosts["butterfly"].isin(wishes)]):
        out.setdefault(row.plant, []).append(str(names.get(row.butterfly, row.butterfly)))
    return {plant: sorted(set(eaters)) for plant, eaters in out.items()}


def _both(plan: Plan, plant: str) -> str:
    return f"{row_of(plan.knowledge.plants, plant)['common_name']} ({plant})"


def _seed(plan: Plan, plant: str) -> str:
    """Return when seed can be gathered, and how long it must lie cold and moist before it grows."""
    if plant not in plan.knowledge.plants.index:
        return ""
    row: pd.Series[Any] = row_of(plan.knowledge.plants, plant)
    if pd.isna(row["seed_collect_start_month"]) or "seed" not in str(row["propagation"]):
        return ""
    months = month_set(f"{row['seed_collect_start_month']:.0f}-{row['seed_collect_end_month']:.0f}")
    days = row["cold_stratification_days"]
    cold = f"; keep moist and cold for {days:.0f} days" if pd.notna(days) and days > 0 else ""
    when = month_words(months, short=True)
    return f"{when}{SEED_NOTE}{cold}"


def _growers(offers: dict[str, Offer] | None, months: dict[str, str], row: Any) -> tuple[str, str]:
    """Return what the growers' list says of a plant, and a warning if it is short."""
    if offers is None:
        return "", ""
    offer = offers.get(row.plant)
    if offer is None or offer.form != row.form:
        return "not on the list", "not on the growers' list: ask early"
    when = f", {months[row.plant]}" if months.get(row.plant) else ""
    if math.isinf(offer.stock):
        return f"on the list{when}", ""
    short = int(row.to_buy) - int(offer.stock)
    instead = ", or take a substitute" if row.substitutes != NO_SUBSTITUTE else ""
    told = f"{counted(short, 'plant')} short: order early{instead}" if short > 0 else ""
    return f"{offer.stock:,.0f} in stock{when}", told


def _months(plan: Plan) -> dict[str, str]:
    """Return the months in which growers sell each plant, in words."""
    growers = plan.layers.frame("growers")
    if growers is None or "months" not in growers:
        return {}
    matches = resolve_plants([str(p) for p in growers["plant"]], plan.knowledge)
    found: dict[str, set[int]] = {}
    for text, match in zip(growers["months"], matches, strict=True):
        if match.accepted is not None:
            found.setdefault(match.accepted, set()).update(month_set(str(text)))
    return {plant: month_words(months, short=True) for plant, months in found.items()}

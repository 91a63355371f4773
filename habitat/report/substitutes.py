"""What to buy instead: plants that feed the same butterflies and do well where a plant was to stand."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from habitat.planting.growers import read_offers
from habitat.planting.grown import low_at_places
from habitat.planting.prices import Offer, price_list
from habitat.report.plan import Plan
from habitat.report.words import month_set
from habitat.site.types import GROWTH_FORM
from habitat.suitability import compile_needs

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
        needs = compile_needs(self.plan.knowledge, self.plan.study, site.assessed, site.by_tests)
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

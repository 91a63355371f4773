"""What a row of plantings says of a plant that people, not the program, put there."""

from __future__ import annotations

from typing import Any

from shapely.geometry.base import BaseGeometry

from habitat.knowledge import resolve_plants
from habitat.pipeline.planting import Groundwork, offers_of
from habitat.planting.communities.habits import read_habits
from habitat.planting.communities.rules import rules_of
from habitat.planting.drawing.draw import read_kinds
from habitat.planting.supply import Offer, choose_offer, price_list
from habitat.site.types import GROWTH_FORM


class PlantFacts:
    """What a row of plantings says of a plant, whose yard a place is in, and which plant a name means."""

    def __init__(self, request: Groundwork) -> None:
        table = request.knowledge.plants
        names = tuple(table.index)
        self.knowledge, self.yards, self.forms = request.knowledge, request.layers.yards, table["form"]
        habits = read_habits(table, rules_of(request.study.planting))
        self.kinds = read_kinds(names, request.knowledge, habits.spacing_m)
        self.prices = price_list(request.study.planting, str(request.study.path))
        self.offers = offers_of(request.study, request.layers, request.knowledge)[0]
        hosts = request.knowledge.host_plants
        mine = hosts[hosts["butterfly"].isin(request.wishes)]
        self.eaters = {str(p): sorted(set(b)) for p, b in mine.groupby("plant")["butterfly"]}

    def plant(self, name: str) -> str | None:
        """Return the scientific name of a plant by any writing of it."""
        return resolve_plants([name], self.knowledge)[0].accepted if name else None

    def yard_at(self, shape: BaseGeometry) -> str | None:
        """Return the yard at a place."""
        inside = self.yards[self.yards.intersects(shape.centroid)]
        return str(inside["yard_id"].iloc[0]) if len(inside) else None

    def row(self, plant: str, form: str, count: int) -> dict[str, Any]:
        """Return what a row of plantings says of a plant; the crown [m] is for its points."""
        kind, eaters = self.kinds[plant], self.eaters.get(plant, [])
        offer = self._offer(plant, form)
        purpose = {(True, True): "host and nectar", (True, False): "host", (False, True): "nectar"}
        return {
            "plant": plant,
            "common_name": kind.common_name,
            "purpose": purpose.get((bool(eaters), bool(kind.bloom_months)), "shelter"),
            "form": offer.form,
            "spacing_m": kind.spacing_m,
            "height_m": kind.height_m,
            "limiting_need": "",
            "butterflies": "; ".join(eaters),
            "bloom_months": kind.bloom_months,
            "cost": round(offer.price * count, 2),
            "layer": "structure" if kind.growth != "herb" else "season",
            "group_size": count,
            "crown_m": kind.spread_m,
        }

    def _offer(self, plant: str, form: str) -> Offer:
        growth = GROWTH_FORM[str(self.forms[plant])]
        if (growth, form) in self.prices:
            return Offer(form, self.prices[growth, form])
        usual = choose_offer(growth, str(self.knowledge.plants.loc[plant, "propagation"]), self.prices)
        return self.offers.get(plant, usual)

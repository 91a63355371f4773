"""Small yards made by hand, for tests of choosing: no layers, no drawing."""

from __future__ import annotations

import functools
import math

import numpy as np
from shapely.geometry import box

from habitat.knowledge import load_knowledge
from habitat.planting.facts import read_facts
from habitat.planting.problem import YardWishes, make_problem
from habitat.planting.types import BedSite
from habitat.site.types import GROWTH_FORM
from habitat.study import KnowledgeSettings, Study
from habitat.suitability import compile_needs

WISHES = ("Danaus plexippus", "Papilio polyxenes", "Phyciodes tharos", "Papilio troilus")


@functools.cache
def knowledge():
    return load_knowledge(KnowledgeSettings())


def study(**planting):
    return Study(layers={"yards": {"path": "yards.gpkg"}}).changed(planting=planting)


@functools.cache
def facts_of(plants, wishes=WISHES, **planting):
    needs = compile_needs(knowledge(), study(), ("sun_h",)).subset(list(plants or knowledge().plants.index))
    return read_facts(knowledge(), study(**planting), needs, wishes)


def bed(number, facts, *, area_m2=8.0, sun_h=7.0, fit=None, form="herb", seed=None, **more):
    """A bed site whose capacities follow from its area and the plants' spacing."""
    table = knowledge().plants.loc[list(facts.plants)]
    growth = np.array(facts.growth)
    spacing = table["spacing_m"].to_numpy(float)
    many = np.floor(area_m2 / (math.sqrt(0.75) * spacing**2)).astype(int)
    right = growth == form
    capacity = np.where(right, many if form == "herb" else 1, 0)
    if fit is None:
        rng = np.random.default_rng(number if seed is None else seed)
        fit = np.round(rng.uniform(0.1, 1.0, len(facts.plants)), 2)
    fit = np.broadcast_to(np.asarray(fit, float), (len(facts.plants),))
    side = math.sqrt(area_m2)
    return BedSite(
        site_id=number,
        growth_form=form,
        polygon=box(10 * number, 0, 10 * number + side, side),
        area_m2=area_m2,
        sun_h_mean=sun_h,
        fit=fit,
        limiting=np.zeros(len(facts.plants), np.uint8),
        capacity=capacity.astype(np.int64),
        **more,
    )


def problem_of(sites, facts, *, budget=250.0, settings=None, standing=None, aims=None, **yard):
    settings = settings or study().planting
    wishes = YardWishes(yard_id=yard.pop("yard_id", "Y1"), budget=budget, **yard)
    return make_problem(wishes, sites, facts, settings, 0.25, standing=standing, aims=aims)


__all__ = ["GROWTH_FORM", "WISHES", "bed", "facts_of", "knowledge", "problem_of", "study"]

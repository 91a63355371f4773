"""Trees and tall shrubs that are chosen already: what they leave to the rest of one yard's choice."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np

from habitat.planting.choice.facts import Facts
from habitat.planting.choice.problem import Standing, YardWishes
from habitat.planting.types import BedSite, Choice
from habitat.remarks import Remark, Subject, remark
from habitat.suitability.classes import CLASSES, WORDS


def fixed_cost(sites: Sequence[BedSite]) -> float:
    """Return what the trees and tall shrubs that are chosen already cost."""
    return float(sum(a.cost for site in sites if site.grown for a in site.grown.fixed))


def left_of(sites: Sequence[BedSite], facts: Facts) -> list[BedSite]:
    """Return the bed sites with the room that is left beside what is chosen already."""
    order = {plant: p for p, plant in enumerate(facts.plants)}
    out = []
    for site in sites:
        taken = site.grown.fixed if site.grown else ()
        share = sum(a.count / max(int(site.capacity[order[a.plant]]), 1) for a in taken)
        room = np.floor(site.capacity * max(0.0, 1.0 - share) + 1e-9).astype(np.int64)
        if site.ringed:  # the ring around a tree is still to be planted
            room = np.where(np.array(facts.growth) == "herb", site.capacity, 0)
        out.append(replace(site, capacity=room) if taken else site)
    return out


def with_fixed(standing: Standing, sites: Sequence[BedSite], facts: Facts) -> Standing:
    """Return what stands in a yard together with the trees and tall shrubs that are chosen already."""
    order = {plant: p for p, plant in enumerate(facts.plants)}
    leaf, fed, months = standing.leaf_m2.copy(), standing.fed.copy(), standing.months
    kinds = []
    for site in sites:
        for a in site.grown.fixed if site.grown else ():
            p = order[a.plant]
            leaf += facts.meals[:, p] * float(facts.inner_m2[p] * a.count * site.fit[p])
            fed += facts.meals[:, p] * (a.count / float(facts.need[p]))
            months |= int(facts.months[p])
            kinds.append(p)
    return Standing(
        leaf,
        fed,
        months,
        standing.plants | {facts.plants[p] for p in kinds},
        standing.stems or bool(facts.stems[kinds].any()),
        standing.bark or bool(facts.bark[kinds].any()),
    )


def money_left(wishes: YardWishes, sites: Sequence[BedSite]) -> YardWishes:
    """Return a yard's wishes with the money that is left, and what is chosen already."""
    fixed = tuple(a for site in sites if site.grown for a in site.grown.fixed)
    return replace(wishes, budget=max(0.0, wishes.budget - fixed_cost(sites)), fixed=fixed)


def whole_choice(choice: Choice, sites: Sequence[BedSite], facts: Facts) -> Choice:
    """Return a choice together with what was chosen before it, and what shade keeps out or will reach."""
    fixed = [a for site in sites if site.grown for a in site.grown.fixed]
    rest = {(a.site_id, a.plant) for a in choice.allocations}
    shaded = [line for site in sites for line in _shade_lines(site, facts, rest)]
    return replace(
        choice,
        allocations=tuple(sorted([*choice.allocations, *fixed], key=lambda a: (a.site_id, a.plant))),
        cost=choice.cost + fixed_cost(sites),
        relaxed=tuple(dict.fromkeys([*choice.relaxed, *shaded])),
    )


def without(choice: Choice, fallen: Collection[tuple[int, str]]) -> Choice:
    """Return a choice without some of its plantings, by bed site and plant."""
    rest = tuple(a for a in choice.allocations if (a.site_id, a.plant) not in fallen)
    return replace(choice, allocations=rest, cost=float(sum(a.cost for a in rest)))


def tell_fallen(choice: Choice, fallen: Mapping[tuple[int, str], float], facts: Facts) -> Choice:
    """Return a choice that tells what was chosen first and fell below the least class where it was drawn.

    ``fallen`` is its fit there [0-1], by bed site and plant.
    """
    taken, worst = {a.plant for a in choice.allocations}, dict[str, float]()
    for (_, plant), fit in fallen.items():
        worst[plant] = min(fit, worst.get(plant, 1.0))
    common = dict(zip(facts.plants, facts.common, strict=True))
    told = [
        remark("unfit_as_drawn", Subject(plants=(plant,)), common_name=common[plant], fit=float(fit))
        for plant, fit in sorted(worst.items())
        if plant not in taken
    ]
    return replace(choice, relaxed=(*choice.relaxed, *told)) if told else choice


def kept_out_plants(site: BedSite, facts: Facts) -> list[int]:
    """Return the plants that were chosen here at first and that the plan's trees shade by a class."""
    if site.grown is None:
        return []
    grown = site.grown
    out = np.flatnonzero(grown.falls & grown.kept_out)
    return [int(p) for p in out if facts.plants[p] in grown.first]


def _shade_lines(site: BedSite, facts: Facts, rest: set[tuple[int, str]]) -> list[Remark]:
    if site.grown is None:
        return []
    grown, out = site.grown, list[Remark]()

    def change(p: int) -> tuple[Remark, ...]:
        before, after = (WORDS[CLASSES[int(c[p]) - 1]] for c in (grown.class_before, grown.class_after))
        return (remark("shade_to_come", fit_before=before, fit_after=after),)

    for p in kept_out_plants(site, facts):
        about = Subject(plants=(facts.plants[p],))
        out.append(remark("shaded_out", about, common_name=facts.common[p], because=change(p)))
    for k in np.flatnonzero(grown.falls & ~grown.kept_out):
        if (site.site_id, facts.plants[k]) in rest:
            about = Subject(plants=(facts.plants[k],))
            out.append(remark("shaded_later", about, common_name=facts.common[k], because=change(int(k))))
    return out

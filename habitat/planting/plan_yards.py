"""Plans for all yards: bed sites, choice, drawing, and habitat recounted from what was drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from habitat.executor import Executor
from habitat.planting.choice.facts import read_facts
from habitat.planting.choice.fixed import fixed_cost
from habitat.planting.choice.money import Split, split_money
from habitat.planting.choice.problem import YardWishes, read_standing_facts
from habitat.planting.drawing.draw import read_kinds
from habitat.planting.drawing.shade import let_trees_grow, shade_notes, tall_plants, trees_come_first
from habitat.planting.supply import Stock, price_list, read_offers
from habitat.planting.tables import YardPlan, gather
from habitat.planting.types import BedSite, Planting, PlantingRequest
from habitat.planting.yard_jobs import (
    ChoiceJob,
    Shared,
    curve_of,
    find_sites,
    mean_latitude_deg,
    plan_for,
    standing_by_yard,
    yard_jobs,
    yard_wishes,
)
from habitat.planting.years.phasing import check_phases
from habitat.progress import Progress

T = TypeVar("T")

WAVE = 12
"""Yards that choose at the same time where growers have too little for all: a number of yards, not of
processes, so that plans are equal with any number of workers."""


def plan_yards(
    request: PlantingRequest, progress: Progress | None = None, executor: Executor | None = None
) -> Planting:
    """Plan all yards of a request.

    Parameters
    ----------
    request
        Study, layers, site, knowledge, needs, what stands, wishes and weights. With ``planting.total_budget``
        the yards share one purse; with a growers layer they share the growers' stock, members first.
    progress
        Called with (stage in words, yards done, yards in all).
    executor
        Who does the work of single yards; left out, this process does.

    Returns
    -------
    Planting
        Equal for equal input and any number of workers.

    Raises
    ------
    StudyError
        If prices, hazards or phases of the study make no sense.
    """
    check_phases(request.study)
    shared, notes = _shared(request)
    group = _Group(request, shared, executor or Executor(), progress)
    group.find_sites()
    group.read_yards()
    purse = group.split_purse()
    stock = Stock(dict(group.stock))
    found = group.plan(stock, request.yard_ids)
    if trees_come_first(request):
        changed = group.let_trees_grow(found)
        stock = Stock(dict(group.stock))
        found |= group.plan(stock, request.yard_ids if stock.left else changed)
    plans = [found[i] for i in request.yard_ids]
    notes = (*notes, *stock.notes(group.stock, request.knowledge), *shade_notes(request, plans, shared.facts))
    if purse is not None:
        notes = (*notes, _told(purse, plans, request.study.planting.total_budget or 0.0))
    return gather(request, plans, notes)


def _shared(request: PlantingRequest) -> tuple[Shared, tuple[str, ...]]:
    study, knowledge, needs = request.study, request.knowledge, request.needs
    prices = price_list(study.planting, str(study.path))
    offers, notes = read_offers(request.layers.frame("growers"), knowledge, prices)
    facts = read_facts(knowledge, study, needs, request.wishes, offers)
    kinds = read_kinds(needs.plants, knowledge)
    latitude = mean_latitude_deg(request.layers.yards)
    return Shared(study, knowledge, needs, facts, kinds, request.site.placeable, latitude), notes


@dataclass(slots=True)
class _Group:
    """The yards of a request and those who work on them; ``stock`` is what growers have in limited number."""

    request: PlantingRequest
    shared: Shared
    executor: Executor
    progress: Progress | None
    sites: dict[str, list[BedSite]] = field(default_factory=dict)
    jobs: dict[str, ChoiceJob] = field(default_factory=dict)
    stock: dict[str, float] = field(default_factory=dict)

    def find_sites(self) -> None:
        """Find the bed sites of all yards, but for those that are known."""
        request, shared = self.request, self.shared
        self.sites = {i: request.bed_sites[i] for i in request.yard_ids if i in request.bed_sites}
        new = [i for i in request.yard_ids if i not in self.sites]
        found = self.executor.map(find_sites, yard_jobs(request, new, shared.latitude_deg), self.shared)
        self.sites.update(zip(new, self._told("finding places for beds", found, len(new)), strict=True))

    def read_yards(self) -> None:
        """Read what the yards bring, what stands there, and what growers have in limited number."""
        request, facts = self.request, self.shared.facts
        offers = zip(facts.plants, facts.offers, strict=True)
        self.stock = {plant: offer.stock for plant, offer in offers if offer.stock != float("inf")}
        if any(site.grown is not None for mine in self.sites.values() for site in mine):
            self._leave_out_tall()
        standing = standing_by_yard(request, read_standing_facts(request.knowledge, facts))
        wishes = yard_wishes(request, self.stock)
        rows = request.layers.yards.set_index("yard_id", drop=False)
        self.jobs = {
            i: ChoiceJob(rows.loc[i], wishes[i], self.sites[i], standing[i]) for i in request.yard_ids
        }

    def split_purse(self) -> Split | None:
        """Split the shared purse over the yards, and return how; None without one."""
        total = self.request.study.planting.total_budget
        if total is None:
            return None
        curves = self.executor.map(curve_of, self.jobs.values(), self.shared)
        gone = {i: fixed_cost(sites) for i, sites in self.sites.items()}
        rest = max(0.0, total - sum(gone.values()))
        split = split_money(list(self._told("sharing money", curves, len(self.jobs))), rest)
        for i, job in self.jobs.items():
            self.jobs[i] = replace(job, wishes=replace(job.wishes, budget=split.money[i] + gone[i]))
        return split

    def let_trees_grow(self, found: dict[str, YardPlan]) -> list[str]:
        """Let the trees of all plans stand and grow, and return the yards that this changes the light of."""
        sites, changed = let_trees_grow(self.request, list(found.values()))
        for i, mine in zip(list(found), sites, strict=True):
            self.sites[i] = mine
            self.jobs[i] = replace(self.jobs[i], sites=mine)
            found[i] = replace(found[i], sites=mine)
        self._leave_out_tall()
        return [i for i in found if i in changed]

    def _leave_out_tall(self) -> None:
        """Leave trees and tall shrubs out of what growers have for the rest: they are chosen already."""
        tall = tall_plants(self.request.knowledge)
        self.stock = {plant: n for plant, n in self.stock.items() if plant not in tall}

    def plan(self, stock: Stock, yard_ids: Sequence[str]) -> dict[str, YardPlan]:
        """Choose and draw for some yards, and let them take from the growers' stock in turn, members first.

        Yards choose in waves, each as if it had to itself what is left then. Who finds in turn that too
        little is left chooses again at the head of the next wave.
        """
        roles = self.request.layers.yards.set_index("yard_id")["role"]
        waiting = sorted(yard_ids, key=lambda i: roles[i] != "member")
        wave = WAVE if stock.left else len(waiting)
        done: dict[str, YardPlan] = {}
        while waiting:
            now, waiting = waiting[:wave], waiting[wave:]
            gone, again = self._gone(stock), []
            jobs = [replace(self.jobs[i], wishes=self._wishes(i, stock, gone)) for i in now]
            for i, (choice, drawing) in zip(now, self.executor.map(plan_for, jobs, self.shared), strict=True):
                if stock.take(choice, gone):
                    done[i] = YardPlan(choice, drawing, self.sites[i])
                    self._tell("planting", len(done), len(yard_ids))
                else:
                    again.append(i)
            waiting = again + waiting
        return done

    def _gone(self, stock: Stock) -> frozenset[str]:
        """Return the plants of which less than a clump is left."""
        facts = self.shared.facts
        clumps = dict(zip(facts.plants, facts.clump, strict=True))
        return frozenset(p for p, n in stock.left.items() if n < clumps[p])

    def _wishes(self, yard_id: str, stock: Stock, gone: frozenset[str]) -> YardWishes:
        left = {p: n for p, n in stock.left.items() if p not in gone}
        return replace(self.jobs[yard_id].wishes, stock=left, elsewhere=gone)

    def _told(self, stage: str, work: Iterator[T], total: int) -> Iterator[T]:
        for done, item in enumerate(work, 1):
            yield item
            self._tell(stage, done, total)

    def _tell(self, stage: str, done: int, total: int) -> None:
        if self.progress is not None:
            self.progress(stage, done, total)


def _told(purse: Split, plans: list[YardPlan], total: float) -> str:
    worth = sum(plan.choice.worth for plan in plans)
    spent = sum(plan.choice.cost for plan in plans)
    return (
        f"One purse of {total:g} for {len(plans)} yards: {spent:g} are spent, for a worth of {worth:.0f} m2 "
        f"of weighted habitat and secondary aims; no split is worth more than {purse.bound:.0f}."
    )

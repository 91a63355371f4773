"""Plans for all yards: bed sites, choice, drawing, and habitat recounted from what was drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

from habitat.parallel import Crew
from habitat.planting.choose import choose
from habitat.planting.facts import read_facts
from habitat.planting.gather import YardPlan, gather
from habitat.planting.growers import Stock, read_offers
from habitat.planting.money import MoneyCurve, Split, money_curve, split_money
from habitat.planting.phasing import check_phases
from habitat.planting.prices import price_list
from habitat.planting.standing import read_standing_facts
from habitat.planting.types import BedSite, Planting, PlantingRequest
from habitat.planting.yard_jobs import Shared, YardJob, draw_yard, prepare_yard, problem_of, yard_jobs

Progress = Callable[[str, int, int], None]
T = TypeVar("T")


def plan_yards(request: PlantingRequest, progress: Progress | None = None) -> Planting:
    """Plan all yards of a request.

    Parameters
    ----------
    request
        Study, layers, site, knowledge, needs, what stands, wishes and weights. With ``planting.total_budget``
        the yards share one purse; with a growers layer they share the growers' stock, members first.
    progress
        Called with (stage in words, yards done, yards in all).

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
    with Crew(shared, request.workers) as crew:
        group = _Group(request, crew, progress)
        purse = group.split_purse()
        plans = group.plan(purse.money if purse else None)
    notes = (*notes, *group.share_stock(plans, purse.money if purse else None))
    if purse is not None:
        notes = (*notes, _told(purse, plans, request.study.planting.total_budget or 0.0))
    return gather(request, plans, notes)


def _shared(request: PlantingRequest) -> tuple[Shared, tuple[str, ...]]:
    study, knowledge = request.study, request.knowledge
    prices = price_list(study.planting, str(study.path))
    offers, notes = read_offers(request.layers.frame("growers"), knowledge, prices)
    facts = read_facts(knowledge, study, request.needs, request.wishes, offers)
    standing = read_standing_facts(knowledge, facts)
    return Shared(study, knowledge, request.needs, facts, standing, request.site.placeable), notes


@dataclass(slots=True)
class _Group:
    """The yards of a request and those who work on them; bed sites are kept once found."""

    request: PlantingRequest
    crew: Crew[Shared]
    progress: Progress | None
    sites: dict[str, list[BedSite]] | None = None

    def jobs(self, money: dict[str, float] | None) -> Iterator[YardJob]:
        """Yield the jobs, with money of the shared purse and the growers' stock where there is either."""
        stock = self.stock()
        request = replace(self.request, bed_sites={**self.request.bed_sites, **(self.sites or {})})
        for job in yard_jobs(request):
            wishes = replace(job.wishes, stock=stock)
            if money is not None:
                wishes = replace(wishes, budget=money[wishes.yard_id])
            yield replace(job, wishes=wishes)

    def stock(self) -> dict[str, float]:
        """Return what growers have of plants that they have in limited number."""
        facts = self.crew.common.facts
        found = zip(facts.plants, facts.offers, strict=True)
        return {plant: offer.stock for plant, offer in found if offer.stock != float("inf")}

    def split_purse(self) -> Split | None:
        """Return how the shared purse is split, None without one."""
        total = self.request.study.planting.total_budget
        if total is None:
            return None
        curves, self.sites = [], {}
        for sites, curve in self._told("sharing money", self.crew.map(curve_of, self.jobs(None))):
            self.sites[curve.yard_id] = sites
            curves.append(curve)
        return split_money(curves, total)

    def plan(self, money: dict[str, float] | None) -> list[YardPlan]:
        """Return the plans of all yards, each as if it had the growers' stock to itself."""
        return list(self._told("planting", self.crew.map(plan_yard, self.jobs(money))))

    def share_stock(self, plans: list[YardPlan], money: dict[str, float] | None) -> tuple[str, ...]:
        """Let yards take from the growers' stock, members first, and plan those anew that find too little.

        ``plans`` is changed in place; returns what to tell.
        """
        start = self.stock()
        if not start:
            return ()
        stock, shared = Stock(dict(start)), self.crew.common
        clumps = dict(zip(shared.facts.plants, shared.facts.clump, strict=True))
        roles = self.request.layers.yards.set_index("yard_id")["role"]
        order = sorted(range(len(plans)), key=lambda i: roles[plans[i].choice.yard_id] != "member")
        short = {i for i in order if self._turned_away(stock, plans[i])}
        if short:
            jobs = {job.wishes.yard_id: job for job in self.jobs(money)}
            for i in sorted(short, key=order.index):
                job = jobs[plans[i].choice.yard_id]
                gone = frozenset(p for p, n in stock.left.items() if n < clumps[p])
                left = {p: n for p, n in stock.left.items() if p not in gone}
                wishes = replace(job.wishes, stock=left, elsewhere=gone)
                plans[i] = plan_yard(replace(job, wishes=wishes, sites=plans[i].sites), shared)
                stock.take(plans[i].choice, gone)
        return stock.notes(start, self.request.knowledge)

    def _turned_away(self, stock: Stock, plan: YardPlan) -> bool:
        if stock.short_for(plan.choice):
            return True
        stock.take(plan.choice)
        return False

    def _told(self, stage: str, work: Iterator[T]) -> Iterator[T]:
        for done, item in enumerate(work, 1):
            yield item
            if self.progress is not None:
                self.progress(stage, done, len(self.request.yard_ids))


def curve_of(job: YardJob, shared: Shared) -> tuple[list[BedSite], MoneyCurve]:
    """Return the bed sites of a yard and what money is worth there."""
    prepared = prepare_yard(job, shared)
    return prepared.sites, money_curve(problem_of(prepared, shared))


def plan_yard(job: YardJob, shared: Shared) -> YardPlan:
    """Choose for one yard, and draw the choice."""
    settings = shared.study.planting
    prepared = prepare_yard(job, shared)
    choice = choose(
        problem_of(prepared, shared),
        effort=settings.effort,
        seed=shared.study.study.seed,
        gap=settings.gap,
        node_limit=settings.node_limit,
    )
    return YardPlan(choice, draw_yard(prepared, choice, shared), prepared.sites)


def _told(purse: Split, plans: list[YardPlan], total: float) -> str:
    worth = sum(plan.choice.worth for plan in plans)
    spent = sum(plan.choice.cost for plan in plans)
    return (
        f"One purse of {total:g} for {len(plans)} yards: {spent:g} are spent, for a worth of {worth:.0f} m2 "
        f"of weighted habitat and secondary aims; no split is worth more than {purse.bound:.0f}."
    )

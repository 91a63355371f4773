"""Yards that are planned together: places found, money and stock shared, trees first, then all the rest."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import geopandas as gpd
import pandas as pd

from habitat.executor import Executor
from habitat.planting.choice.fixed import fixed_cost
from habitat.planting.choice.money import Split, split_money
from habitat.planting.choice.problem import YardWishes, read_standing_facts
from habitat.planting.drawing.draw import Drawing
from habitat.planting.drawing.shade import let_trees_grow, shade_notes, tall_plants, trees_come_first
from habitat.planting.settled import Settled
from habitat.planting.sharing import Turns, shares_of
from habitat.planting.standing import standing_fit
from habitat.planting.supply import Stock
from habitat.planting.tables import YardPlan
from habitat.planting.types import BedSite, Choice
from habitat.planting.yard_jobs import (
    ChoiceJob,
    Shared,
    choice_for,
    curve_of,
    find_sites,
    plan_for,
    standing_by_yard,
    trees_for,
    yard_jobs,
    yard_wishes,
)
from habitat.progress import Progress
from habitat.remarks import Remark, remark
from habitat.site.types import Site
from habitat.terms import MEMBER

T = TypeVar("T")

Chooser = Callable[[ChoiceJob, Shared], tuple[Choice, Drawing]]
"""``plan_for`` or ``trees_for``."""

WAVE = 12
"""Members that choose at the same time where growers have too little for all: a number of yards, not of
processes, so that plans are equal with any number of workers."""


@dataclass(slots=True)
class Group:
    """The yards to plan and those who work on them.

    stock : what growers have in limited number. order : yards in the order in which they choose, with those
    that are settled in the places where they chose once.
    """

    shared: Shared
    executor: Executor
    yards: gpd.GeoDataFrame
    site: Site
    existing: gpd.GeoDataFrame
    keep: gpd.GeoDataFrame | None
    streets: gpd.GeoDataFrame | None
    yard_ids: tuple[str, ...]
    progress: Progress | None
    weights: Mapping[tuple[str, str], float] = field(default_factory=dict)
    neighbour_nectar: Mapping[str, frozenset[int]] = field(default_factory=dict)
    sites: dict[str, list[BedSite]] = field(default_factory=dict)
    order: tuple[str, ...] = ()
    settled: Settled | None = None
    purses: Sequence[tuple[frozenset[str], float]] = ()
    jobs: dict[str, ChoiceJob] = field(default_factory=dict)
    stock: dict[str, float] = field(default_factory=dict)

    def plan_all(self) -> tuple[list[YardPlan], tuple[Remark, ...]]:
        """Return the plan of each yard, trees first, and what there is to tell about all of them."""
        shared, trees_first = self.shared, self._read()
        purses = self.split_purses()
        if trees_first:
            self.let_trees_grow(self.plan(Stock(dict(self.stock)), trees_for))
        stock = Stock(dict(self.stock))
        found = self.plan(stock, plan_for)
        plans = [found[i] for i in self.yard_ids]
        notes = stock.notes(self.stock, shared.knowledge) + shade_notes(
            plans, shared.knowledge, self.others(), self.told()
        )
        told = [_purse_note(p, [found[i] for i in p.money], total) for p, total in purses if p.money]
        return plans, (*notes, *told)

    def choose_all(self) -> list[Choice]:
        """Return what each yard chooses, by itself, beside its trees; nothing but these is drawn."""
        if self._read():
            self.let_trees_grow(self.plan(Stock(dict(self.stock)), trees_for))
        return list(self.executor.map(choice_for, (self.jobs[i] for i in self.yard_ids), self.shared))

    def _read(self) -> bool:
        """Find the places for beds and read the yards; return whether trees are to be chosen first."""
        self.existing = self.existing.assign(fit=standing_fit(self.existing, self.site, self.shared.needs))
        trees_first = trees_come_first(self.site, self.sites.values())
        self.find_sites()
        self.read_yards()
        return trees_first and bool(self.yard_ids)

    def others(self) -> gpd.GeoDataFrame | None:
        """Return the plants of plans that stay as they are, None if there are none."""
        return None if self.settled is None else self.settled.drawn.points

    def told(self) -> list[Remark]:
        """Return what the yards of plans that stay as they are were told."""
        if self.settled is None:
            return []
        return [line for lines in self.settled.results["relaxed"] for line in lines]

    def find_sites(self) -> None:
        """Find the bed sites of all yards, but for those that are known."""
        known = self.sites
        self.sites = {i: known[i] for i in self.yard_ids if i in known}
        new = [i for i in self.yard_ids if i not in self.sites]
        tables = (self.yards, self.site, self.existing, self.keep)
        jobs = yard_jobs(new, *tables, self.shared.latitude_deg, self.streets)
        found = self.executor.map(find_sites, jobs, self.shared)
        self.sites.update(zip(new, self._counted("finding places for beds", found, len(new)), strict=True))

    def read_yards(self) -> None:
        """Read what the yards bring, what stands there, and what growers have in limited number."""
        shared = self.shared
        offers = zip(shared.facts.plants, shared.facts.offers, strict=True)
        self.stock = {plant: offer.stock for plant, offer in offers if offer.stock != float("inf")}
        if any(site.grown is not None for mine in self.sites.values() for site in mine):
            self._leave_out_tall()
        facts = read_standing_facts(shared.knowledge, shared.facts)
        standing = standing_by_yard(self.yard_ids, self.yards, self.existing, facts)
        rows = self.yards.set_index("yard_id", drop=False)
        self.jobs = {
            i: ChoiceJob(rows.loc[i], self._brought(rows.loc[i]), self.sites[i], standing[i])
            for i in self.yard_ids
        }

    def _brought(self, yard: pd.Series) -> YardWishes:
        yard_id, shared = str(yard["yard_id"]), self.shared
        wished = shared.facts.butterflies
        return yard_wishes(
            yard,
            shared.settings,
            weights={b: self.weights[yard_id, b] for b in wished if (yard_id, b) in self.weights},
            neighbour_months=self.neighbour_nectar.get(yard_id, ()),
            stock=self.stock,
            tested=self.site.tested_in(yard_id),
        )

    def split_purses(self) -> list[tuple[Split, float]]:
        """Split each shared purse over its members, and return how, with the money in it.

        Whoever else may be asked takes nothing from them: its money is what it would get if it joined alone.
        """
        total, own = (
            self.shared.settings.total_budget,
            frozenset[str]().union(*(ids for ids, _ in self.purses)),
        )
        every = {*self.jobs, *(() if self.settled is None else self.settled.yard_ids)}
        purses = [*self.purses, *([(frozenset(every - own), total)] if total is not None else [])]
        if not purses:
            return []
        found = self.executor.map(curve_of, self.jobs.values(), self.shared)
        curves = {c.yard_id: c for c in self._counted("sharing money", found, len(self.jobs))}
        members = self.members()
        gone, out = {i: fixed_cost(sites) for i, sites in self.sites.items()}, []
        for ids, money in purses:
            mine = [curves[i] for i in self.jobs if i in ids & members]
            asked = [curves[i] for i in self.jobs if i in ids - members]
            spent = 0.0 if self.settled is None else self.settled.cost_of(ids)
            rest = max(0.0, money - spent - sum(gone[c.yard_id] for c in mine))
            split = split_money(mine, rest)
            shares = split.money | {
                c.yard_id: split_money([*mine, c], max(0.0, rest - gone[c.yard_id])).money[c.yard_id]
                for c in asked
            }
            for i, share in shares.items():
                job = self.jobs[i]
                self.jobs[i] = replace(job, wishes=replace(job.wishes, budget=share + gone[i]))
            out.append((split, money))
        return out

    def members(self) -> frozenset[str]:
        """Return the yards that take part: only they take from others."""
        return frozenset(self.yards.loc[self.yards["role"] == MEMBER, "yard_id"])

    def let_trees_grow(self, found: dict[str, YardPlan]) -> None:
        """Let the trees of all plans stand and grow, for what is planted in their light."""
        shared = self.shared
        sites = let_trees_grow(
            list(found.values()),
            self.site,
            shared.needs,
            shared.knowledge,
            allow_falling_class=shared.settings.allow_falling_class,
            others=self.others(),
            members=self.members(),
        )
        for i, mine in zip(list(found), sites, strict=True):
            self.sites[i] = mine
            self.jobs[i] = replace(self.jobs[i], sites=mine)
        self._leave_out_tall()

    def _leave_out_tall(self) -> None:
        """Leave trees and tall shrubs out of what growers have for the rest: they are chosen already."""
        tall = tall_plants(self.shared.knowledge)
        self.stock = {plant: n for plant, n in self.stock.items() if plant not in tall}

    def plan(self, stock: Stock, choose: Chooser) -> dict[str, YardPlan]:
        """Choose and draw for each yard, and let them take from the growers' stock in turn.

        Yards choose in waves, each as if it had to itself what is left then. Who finds in turn that too
        little is left chooses again at once, so that nobody who comes later takes anything before. All have
        what members leave: plans of candidates may never be bought, so each is as if it joined alone.
        """
        able = set(self.yard_ids)
        kept = frozenset[str]() if self.settled is None else self.settled.yard_ids
        settled = {} if self.settled is None else self.settled.taken()
        waiting = [i for i in self.order if i in able or i in kept]
        turns = Turns.start(stock, self._shares(choose), waiting, self.members())
        done: dict[str, YardPlan] = {}
        for now in turns.waves(waiting, WAVE if stock.left else len(waiting)):
            gone = self._gone(stock)
            jobs = [self._job(i, turns, gone) for i in now if i in able]
            made = iter(self.executor.map(choose, jobs, self.shared))
            for i in now:
                if i in kept and self.settled is not None:
                    turns.give(i, *settled[i], gone)
                    continue
                choice, drawing = next(made)
                if not turns.take(i, choice, gone):
                    choice, drawing = self._again(i, turns, choose)
                done[i] = YardPlan(choice, drawing, self.sites[i])
                self._tell("choosing trees" if choose is trees_for else "planting", len(done), len(able))
        return done

    def _shares(self, choose: Chooser) -> dict[str, float]:
        """Return in which share of the yards kinds may stand: tall ones are counted when they are chosen."""
        shared = self.shared
        most = shares_of(shared.facts.plants, shared.habits, shared.settings)
        tall = tall_plants(shared.knowledge)
        chosen = any(site.grown is not None for mine in self.sites.values() for site in mine)
        if choose is trees_for:
            most = {plant: share for plant, share in most.items() if plant in tall}
        elif chosen:
            most = {plant: share for plant, share in most.items() if plant not in tall}
        return most

    def _job(self, yard_id: str, turns: Turns, gone: frozenset[str]) -> ChoiceJob:
        left = {p: n for p, n in turns.stock.left.items() if p not in gone}
        wishes = self.jobs[yard_id].wishes
        wishes = replace(wishes, stock=left, elsewhere=gone, widespread=turns.widespread(yard_id))
        return replace(self.jobs[yard_id], wishes=wishes)

    def _again(self, yard_id: str, turns: Turns, choose: Chooser) -> tuple[Choice, Drawing]:
        """Choose anew for a yard from what is left now, and take it."""
        gone = self._gone(turns.stock)
        job = self._job(yard_id, turns, gone)
        choice, drawing = next(iter(self.executor.map(choose, [job], self.shared)))
        if not turns.take(yard_id, choice, gone):
            raise RuntimeError(f"yard {yard_id} took more than is left with the growers")
        return choice, drawing

    def _gone(self, stock: Stock) -> frozenset[str]:
        """Return the plants of which less than a clump is left."""
        facts = self.shared.facts
        clumps = dict(zip(facts.plants, facts.clump, strict=True))
        return frozenset(p for p, n in stock.left.items() if n < clumps[p])

    def _counted(self, stage: str, work: Iterator[T], total: int) -> Iterator[T]:
        for done, item in enumerate(work, 1):
            yield item
            self._tell(stage, done, total)

    def _tell(self, stage: str, done: int, total: int) -> None:
        if self.progress is not None:
            self.progress(stage, done, total)


def _purse_note(purse: Split, plans: list[YardPlan], total: float) -> Remark:
    return remark(
        "purse_split",
        total=float(total),
        yards=len(plans),
        spent=float(sum(plan.choice.cost for plan in plans)),
        worth_m2=float(sum(plan.choice.worth for plan in plans)),
        bound_m2=float(purse.bound),
    )

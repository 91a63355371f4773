"""Plans for all yards: bed sites, choice, drawing, and habitat recounted from what was drawn."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import geopandas as gpd
import pandas as pd

from habitat.executor import Executor
from habitat.knowledge.tables import Knowledge
from habitat.planting.anchors import Anchor
from habitat.planting.choice.facts import read_facts
from habitat.planting.choice.fixed import fixed_cost
from habitat.planting.choice.money import Split, split_money
from habitat.planting.choice.problem import YardWishes, read_standing_facts
from habitat.planting.communities.habits import read_habits
from habitat.planting.communities.rules import rules_of
from habitat.planting.drawing.draw import Drawing, drawn_tables, read_kinds
from habitat.planting.drawing.shade import let_trees_grow, shade_notes, tall_plants, trees_come_first
from habitat.planting.habitat_area import recount
from habitat.planting.settled import Settled, in_order, turns, with_settled
from habitat.planting.sharing import Turns, by_scientific_name, shares_of
from habitat.planting.standing import standing_fit
from habitat.planting.supply import Stock, price_list, read_offers
from habitat.planting.tables import YardPlan, gather
from habitat.planting.types import BedSite, Choice, Planting
from habitat.planting.yard_jobs import (
    ChoiceJob,
    Shared,
    curve_of,
    find_sites,
    mean_latitude_deg,
    plan_for,
    standing_by_yard,
    trees_for,
    yard_jobs,
    yard_wishes,
)
from habitat.planting.years.phasing import check_phases
from habitat.progress import Progress
from habitat.remarks import Remark, remark
from habitat.settings.planting import PlantingSettings
from habitat.site.types import Site
from habitat.suitability.types import Needs
from habitat.terms import MEMBER

T = TypeVar("T")

Chooser = Callable[[ChoiceJob, Shared], tuple[Choice, Drawing]]
"""``plan_for`` or ``trees_for``."""

WAVE = 12
"""Members that choose at the same time where growers have too little for all: a number of yards, not of
processes, so that plans are equal with any number of workers."""


def plan_yards(
    yards: gpd.GeoDataFrame,
    site: Site,
    existing: gpd.GeoDataFrame,
    *,
    knowledge: Knowledge,
    needs: Needs,
    settings: PlantingSettings,
    wishes: Sequence[str],
    season: tuple[int, int],
    seed: int = 0,
    yard_ids: Sequence[str] | None = None,
    keep: gpd.GeoDataFrame | None = None,
    streets: gpd.GeoDataFrame | None = None,
    growers: pd.DataFrame | None = None,
    anchors: Sequence[Anchor] = (),
    butterflies: Sequence[str] = (),
    weights: Mapping[tuple[str, str], float] | None = None,
    neighbour_nectar: Mapping[str, frozenset[int]] | None = None,
    bed_sites: Mapping[str, list[BedSite]] | None = None,
    settled: Settled | None = None,
    order: Sequence[str] = (),
    purses: Sequence[tuple[frozenset[str], float]] = (),
    latitude_deg: float | None = None,
    settings_file: str = "",
    only: Collection[str] | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Planting:
    """Plan yards: bed sites, choice, drawing, and habitat recounted from what was drawn.

    Parameters
    ----------
    yards
        yard_id (text, unique), role ("member", "candidate" or another), geometry (polygons in a metric CRS);
        budget [money], max_height_m, children, pets, sprayed where they are known; tree_stands: whether a
        tree of any kind stands there (``yards_with_trees``).
    site
        What each place offers, in the same CRS: open and closed ground, factors, heights.
    existing
        As ``existing_plants`` returns it.
    knowledge, needs
        The tables, and the needs of the plants that may be chosen.
    settings
        Effort, money, heights, hazards. With ``total_budget`` the yards share one purse.
    wishes
        Butterflies to plan for, those that count first if not all can be had at the head.
    season
        First and last month [1-12] in which bloom and flight count.
    seed
        Start of the random numbers.
    yard_ids
        Yards to plan, in the order of ``yards``; left out, members and candidates.
    keep
        Shapes that stay as they are.
    streets
        Lines or polygons; they tell where the front of a house is.
    growers
        plant, form, price, quantity; the yards share what growers have, members first.
    anchors
        Habitat that is there already outside the yards.
    butterflies
        Whom to count habitat for beside the wishes.
    weights
        (yard_id, butterfly) -> worth of a square metre of habitat there relative to 1, which a missing one
        has.
    neighbour_nectar
        yard_id -> months with bloom within the foraging distance outside the yard.
    bed_sites
        Places found before, by yard, with the trees and tall shrubs chosen there (``Planting.bed_sites``).
    settled
        Plans that stay as they are: their trees shade, their plants flower and feed, their money and plants
        are spent; yards in ``yard_ids`` that they hold are not planned.
    order
        In which yards of an earlier run chose; those who came since choose after them.
    purses
        Yards that share money of their own, and how much [money]; ``total_budget`` is for all others.
    latitude_deg
        Of the yards' middle [degrees north]; worked out from their CRS if left out.
    settings_file
        Where the settings stand, for errors.
    only
        Habitat is counted for these yards alone; None counts it for all.
    executor
        Who does the work of single yards; left out, this process does.
    progress
        Called with (stage in words, yards done, yards in all).

    Returns
    -------
    Planting
        Equal for equal input and any number of processes.

    Raises
    ------
    StudyError
        If prices, hazards or phases make no sense.
    """
    check_phases(settings.phases, settings_file)
    shared, notes = read_shared(
        knowledge,
        needs,
        settings,
        wishes,
        season,
        growers=growers,
        settings_file=settings_file,
        seed=seed,
        placeable=site.placeable,
        latitude_deg=mean_latitude_deg(yards) if latitude_deg is None else latitude_deg,
    )
    able = yards.loc[yards["role"].isin(["member", "candidate"]), "yard_id"]
    planned = tuple(able if yard_ids is None else yard_ids)
    kept = frozenset[str]() if settled is None else settled.yard_ids
    group = _Group(
        shared,
        executor or Executor(),
        yards,
        site,
        existing,
        keep,
        streets,
        tuple(i for i in planned if i not in kept),
        progress,
        weights or {},
        neighbour_nectar or {},
        dict(bed_sites or {}),
        turns(planned, yards.set_index("yard_id")["role"], order),
        settled,
        purses,
    )
    plans, more = group.plan_all()
    drawn = with_settled(drawn_tables([plan.drawing for plan in plans], yards.crs), settled, planned)
    accounts = recount(
        yards,
        group.existing,
        drawn,
        tuple(dict.fromkeys([*wishes, *butterflies])),
        knowledge=knowledge,
        settings=settings,
        season=season,
        anchors=anchors,
        only=only,
    )
    found = gather(plans, drawn, accounts, wishes, (*notes, *more), settled)
    return replace(found, yard_results=in_order(found.yard_results, planned), order=group.order)


def read_shared(
    knowledge: Knowledge,
    needs: Needs,
    settings: PlantingSettings,
    wishes: Sequence[str],
    season: tuple[int, int],
    *,
    growers: pd.DataFrame | None,
    settings_file: str,
    seed: int,
    placeable: bool,
    latitude_deg: float,
) -> tuple[Shared, tuple[Remark, ...]]:
    """Return what all yards share, and notes on growers' rows of no use."""
    settings = by_scientific_name(settings, knowledge)
    offers, notes = read_offers(growers, knowledge, price_list(settings, settings_file))
    facts = read_facts(
        knowledge, needs, wishes, settings, season, growers=offers, settings_file=settings_file
    )
    rules = rules_of(settings)
    habits = read_habits(knowledge.plants.loc[list(needs.plants)], rules)
    kinds = read_kinds(needs.plants, knowledge, habits.spacing_m)
    shared = Shared(settings, seed, knowledge, needs, facts, kinds, habits, rules, placeable, latitude_deg)
    return shared, notes


@dataclass(slots=True)
class _Group:
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
    weights: Mapping[tuple[str, str], float]
    neighbour_nectar: Mapping[str, frozenset[int]]
    sites: dict[str, list[BedSite]]
    order: tuple[str, ...]
    settled: Settled | None = None
    purses: Sequence[tuple[frozenset[str], float]] = ()
    jobs: dict[str, ChoiceJob] = field(default_factory=dict)
    stock: dict[str, float] = field(default_factory=dict)

    def plan_all(self) -> tuple[list[YardPlan], tuple[Remark, ...]]:
        """Return the plan of each yard, trees first, and what there is to tell about all of them."""
        shared = self.shared
        self.existing = self.existing.assign(fit=standing_fit(self.existing, self.site, shared.needs))
        trees_first = trees_come_first(self.site, self.sites.values())
        self.find_sites()
        self.read_yards()
        purses = self.split_purses()
        stock = Stock(dict(self.stock))
        if trees_first and self.yard_ids:
            self.let_trees_grow(self.plan(stock, trees_for))
            stock = Stock(dict(self.stock))
        found = self.plan(stock, plan_for)
        plans = [found[i] for i in self.yard_ids]
        notes = stock.notes(self.stock, shared.knowledge) + shade_notes(
            plans, shared.knowledge, self.others(), self.told()
        )
        told = [_purse_note(p, [found[i] for i in p.money], total) for p, total in purses if p.money]
        return plans, (*notes, *told)

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

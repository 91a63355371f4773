"""Choose communities for the beds of one yard: list what each place could get, take the best together."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from habitat.arrays import Flags, Floats, Ints
from habitat.knowledge.year import NIGHT_SHORT
from habitat.planting.choice.builder import open_before, wanted_months
from habitat.planting.choice.problem import YardProblem, calm_places
from habitat.planting.choice.reasons import allocations, relaxed_wishes
from habitat.planting.communities.compose import (
    SEASON_BITS,
    Palette,
    Place,
    compose,
    compose_each,
    kinds_of,
    may_stand,
    rank,
)
from habitat.planting.communities.habits import GROUND, Habits, group_sizes
from habitat.planting.communities.program import (
    BedProgram,
    Column,
    build_program,
    choose_beds,
    predicted_habitat_m2,
    weigh,
)
from habitat.planting.communities.rules import LAYERS, BedRules
from habitat.planting.types import Allocation, Choice
from habitat.planting.years.phasing import planting_years

SHARES_OF_PLACE = (1.0, 0.75, 0.5, 0.35)
"""A place may be planted in part, from one end, where money or wishes do not fill it: judgement."""

SMALL_SHARES, LEAST_SMALL_M2 = (0.25, 0.18, 0.12), 1.0
"""Smaller parts are tried where the money buys no larger one: judgement."""

LEAST_M2 = 4.0
"""A place is planted in part only while the part is this large: judgement."""

UNDRAWN_WIDTH_M = 1.8
"""Width of beds that are counted and not drawn, without a buildings layer."""

QUICK_GAP, QUICK_NODES = 0.01, 100
"""Where effort "quick" stops: share of the worth, nodes of the search."""

ELSEWHERE = 0.03
"""What a kind that local growers do not have counts of what it would, where there are growers: it comes in
where nothing else does its work, and is told to be ordered ahead; judgement."""

RING_FILLED = 0.8
"""Share of the ring around a tree that lattices of low plants fill: judgement."""

CHEAP_TIMES = 3.0
"""Low plants for a ring are cheap while their ground costs up to this many times the cheapest: judgement."""

BED_LIKING = 0.5
"""Share of a bed's own draw in its liking, so that the beds of a yard hold kinds of their own: judgement."""

LEFT_TO_OTHERS = 0.6
"""A yard leaves kinds that it likes less than this to other yards where it can: judgement."""

SEASON_CHOICE = 6
"""Kinds of local growers that a yard keeps a choice of in each season: twice what it wants; judgement."""

ORDERS_MOST = 12
"""Most butterflies that a bed is tried for first."""


FEW_ORDERS = 3
"""Orders of meals that an estimate tries: by weight of their butterflies, the other way round, and none."""

Memo = dict[tuple[object, ...], list[Ints]]
"""Compositions that are known already, by what they follow from; for one yard, season and stock."""


def liking_of(yard_id: str, plants: Sequence[str], seed: int) -> Floats:
    """Return how much a yard takes to each plant, 0 to 1: even over yards, and the same whoever else joins.

    Examples
    --------
    >>> one = liking_of("Q-014", ["Asclepias incarnata", "Carex blanda"], 7)
    >>> bool((one == liking_of("Q-014", ["Asclepias incarnata", "Carex blanda"], 7)).all())
    True
    """
    return np.array([zlib.crc32(f"{seed}|{yard_id}|{plant}".encode()) / 2.0**32 for plant in plants])


def allowed_at(problem: YardProblem, class_limit: float) -> Flags:
    """Return which plant may stand at which bed site (S, P), for whatever it gives: shelter and cover too."""
    facts, sites = problem.facts, problem.sites
    out = np.zeros((len(sites), len(facts.plants)), bool)
    for s, site in enumerate(sites):
        here = problem.open_to & (site.capacity > 0) & (site.fit >= class_limit - 1e-9)
        here &= facts.height_m <= site.height_max_m
        if site.closed_to_hosts:
            here &= ~facts.eaten
        if site.grown is not None:
            here &= ~site.grown.kept_out
        out[s] = here
    return out & calm_places(problem.calm_m2, facts) & problem.held


def list_columns(
    problem: YardProblem,
    habits: Habits,
    rules: BedRules,
    seed: int,
    class_limit: float,
    together: Flags | None = None,
    memo: Memo | None = None,
    *,
    any_money: bool = False,
    most_orders: int | None = None,
) -> list[Column]:
    """Return what each place of a yard could be planted with, by place; no two alike.

    With ``any_money`` also small parts of places that the yard's money makes needless, so that a program over
    them bounds what any less money buys. With ``most_orders`` only so many orders of meals are tried a place.
    """
    memo = {} if memo is None else memo
    palette = _palette(problem, habits, seed, together)
    allowed = allowed_at(problem, class_limit)
    for s, site in enumerate(problem.sites):
        place = _place(problem, s, allowed[s], 1.0) if site.growth_form == "herb" else None
        allowed[s] = allowed[s] if place is None else may_stand(place, habits, rules)
    allowed &= taken_up(palette, np.asarray(allowed.any(axis=0), bool))
    out: list[Column] = []
    kinds, orders = kinds_of(palette), _orders(problem)[:most_orders]
    for s, site in enumerate(problem.sites):
        if site.growth_form != "herb":
            out += _single(problem, s, allowed[s], palette, rules)
            continue
        found: dict[bytes, Ints] = {}
        here = replace(palette, liking=_liking_at(palette.liking, problem, s, seed))
        turns = rank(here, site.fit)
        whole = problem.settings.bed_share_max >= 1.0
        for share in (*SHARES_OF_PLACE, *SMALL_SHARES):
            cheap = any(float(counts @ palette.price) <= problem.yard.budget for counts in found.values())
            if not any_money and ((share in SMALL_SHARES and (cheap or not found)) or (whole and cheap)):
                break
            place = _place(problem, s, allowed[s], share)
            if place is not None:
                rich = place.yard_m2 >= rules.whole_from_m2
                key = (s, place.area_m2, rich, site.drawn_times, allowed[s].tobytes(), site.fit.tobytes())
                if key not in memo:
                    beds = compose_each(place, kinds, turns, habits, rules, orders)
                    memo[key] = [counts for counts in beds if counts.any()]
                found |= {counts.tobytes(): counts for counts in memo[key]}
        out += [Column(s, counts) for counts in found.values()]
    return out


def _palette(problem: YardProblem, habits: Habits, seed: int, together: Flags | None) -> Palette:
    facts = problem.facts
    here = facts.local & ~np.isin(facts.plants, sorted(problem.yard.elsewhere))
    supply = np.where(here, 1.0, ELSEWHERE) if facts.local.any() else np.ones(len(here))
    price = np.array([problem.yard.offer(facts, p).price for p in range(len(facts.plants))], float)
    liking = liking_of(problem.yard.yard_id, facts.plants, seed)
    liking[np.isin(facts.plants, problem.settings.favoured)] = 1.0
    return Palette(
        habits=habits,
        months=facts.months & BY_DAY,
        nectar=facts.nectar_value + _wanted_at_night(problem),
        worth=facts.meals / np.maximum(facts.to_plant, 1e-9),
        price=price,
        liking=liking,
        most=np.array([problem.yard.stock.get(plant, np.inf) for plant in facts.plants], float),
        tolerance=facts.width / (float(facts.width.max(initial=0.0)) or 1.0),
        supply=supply,
        together=together,
    )


BY_DAY = (1 << NIGHT_SHORT + 1) - 1
"""Bits of months of nectar by day."""


def _wanted_at_night(problem: YardProblem) -> Floats:
    """Return 1 for plants (P,) with nectar at night in a month that a wish wants and lacks, else 0."""
    wanted = wanted_months(problem) & ~open_before(problem) & ~BY_DAY
    return ((problem.facts.months & wanted) > 0).astype(float)


def taken_up(palette: Palette, allowed: Flags) -> Flags:
    """Return which plants (P,) a yard plants at all; the others it leaves to other yards.

    It leaves those that it likes least, but for the ground layer, for a host without which a butterfly goes
    hungry, and for what it needs to have a choice of kinds in every season.

    Parameters
    ----------
    palette
        Plants as this yard sees them.
    allowed
        Which of them (P,) may stand anywhere in it.
    """
    out = (palette.liking >= LEFT_TO_OTHERS) | (palette.habits.layer == GROUND) | palette.habits.tree
    blooms = [palette.months & bits > 0 for bits in SEASON_BITS]
    needed = [(worth > 0, 1) for worth in palette.worth] + [(season, SEASON_CHOICE) for season in blooms]
    by_liking = np.argsort(-palette.liking * palette.supply, kind="stable")
    for does, number in needed:
        mine = by_liking[(does & allowed)[by_liking]]
        have = int((out & (palette.supply >= 1.0))[mine].sum())
        out[mine[~out[mine]][: max(0, number - have)]] = True
    return out


def _liking_at(liking: Floats, problem: YardProblem, s: int, seed: int) -> Floats:
    """Return how much one bed takes to each plant: in part as its yard does, in part by itself."""
    own = liking_of(f"{problem.yard.yard_id}|{problem.sites[s].site_id}", problem.facts.plants, seed)
    own[np.isin(problem.facts.plants, problem.settings.favoured)] = 1.0
    return BED_LIKING * own + (1.0 - BED_LIKING) * liking


def _single(
    problem: YardProblem, s: int, allowed: Flags, palette: Palette, rules: BedRules
) -> Iterator[Column]:
    """Yield a place of its own with each tree, shrub or vine that may stand there, and its ground layer.

    Where the tree is chosen already, what is left to choose is the ground layer alone.
    """
    site, woody = problem.sites[s], palette.habits.woody
    rings = _rings(problem, s, allowed & ~woody, palette, rules)
    if site.grown is not None and site.grown.fixed:
        for ring in rings:
            yield Column(s, ring)
        return
    for p in np.flatnonzero(allowed & woody):
        for ring in rings[:1] or [np.zeros(len(palette.habits), np.int64)]:
            counts = ring.copy()
            counts[p] = 1
            yield Column(s, counts)


def _rings(problem: YardProblem, s: int, allowed: Flags, palette: Palette, rules: BedRules) -> list[Ints]:
    """Return ground layers (P,) of the ring around a tree or tall shrub, the cheapest last; none may hold."""
    site, habits = problem.sites[s], palette.habits
    low = allowed & (habits.layer == GROUND)
    low = low & ~habits.graminoid if (low & ~habits.graminoid).any() else low  # forbs come from seed
    if not site.ringed or not low.any():
        return []
    held = float((site.capacity * habits.ground_m2)[low].max())
    area = min(RING_FILLED * site.ground["herb"].area, held)
    dear = np.where(low, palette.price / habits.ground_m2, np.inf)
    cheap = low & (dear <= CHEAP_TIMES * dear.min() + 1e-9)
    carpet = np.zeros(len(habits), np.int64)
    first = int(np.argmin(np.round(dear, 9)))
    number = min(int(area / habits.ground_m2[first]), int(site.capacity[first]))
    carpet[first] = number if number >= rules.group_sizes[0] else 0
    mixed = [compose(Place(area, 2.0, False, kinds, site.fit), palette, rules, []) for kinds in (low, cheap)]
    found = list({counts.tobytes(): counts for counts in (*mixed, carpet) if counts.any()}.values())
    return found[:2]


def _place(problem: YardProblem, s: int, allowed: Flags, share: float) -> Place | None:
    """Return a share of a site, less the ground of what stands there for good; None where it is too small."""
    site = problem.sites[s]
    drawn = abs(site.polygon.area - site.area_m2) <= 0.5 * site.area_m2
    width = _width_m(site.polygon.area, site.polygon.length) if drawn else UNDRAWN_WIDTH_M
    order = {plant: p for p, plant in enumerate(problem.facts.plants)}
    fixed = site.grown.fixed if site.grown else ()
    stands = float(sum(a.count * problem.facts.cell_m2[order[a.plant]] for a in fixed))
    area = site.area_m2 * share - stands
    least = LEAST_M2 if share < 1.0 else min(LEAST_M2, 0.8 * site.area_m2)
    if area < (LEAST_SMALL_M2 if share in SMALL_SHARES else least):
        return None
    return Place(
        area,
        width,
        site.back != (0.0, 0.0),
        allowed,
        site.fit,
        bool(fixed),
        problem.calm_m2[s],
        problem.beds_m2,
        site.drawn_times,
    )


def _width_m(area_m2: float, edge_m: float) -> float:
    """Return the width of a rectangle of an area and an outline: the smaller root of x (edge / 2 - x) = area.

    Examples
    --------
    >>> round(_width_m(12.0, 16.0), 2)
    2.0
    """
    half = edge_m / 4.0
    return float(half - np.sqrt(max(half**2 - area_m2, 0.0)))


def _orders(problem: YardProblem) -> list[list[int]]:
    """Return orders in which meals are set: by weight of their butterfly, each of the weightiest first."""
    by_weight = [int(b) for b in np.lexsort((np.arange(len(problem.weight)), -problem.weight))]
    orders = [by_weight, by_weight[::-1], []]
    for b in by_weight[:ORDERS_MOST]:
        rest = [other for other in by_weight if other != b]
        turn = by_weight.index(b)
        orders += [[b], [b, *rest[turn:], *rest[:turn]]]
    return [[m for b in order for m in problem.facts.meals_of(b)] for order in orders]


def choose_communities(
    problem: YardProblem,
    habits: Habits,
    rules: BedRules,
    *,
    class_limit: float,
    effort: str = "quick",
    seed: int = 0,
    large_trees_max: int = 1,
    together: Flags | None = None,
    memo: Memo | None = None,
    rich: bool | None = None,
) -> Choice:
    """Choose a community for each bed of one yard, or none.

    Parameters
    ----------
    problem
        The yard: places, plants that may stand at each, wishes, money, what stands.
    habits, rules
        Plants as a bed sees them, and how beds are put together.
    class_limit
        Fit [0-1] below which nothing is planted (lower limit of class S3).
    effort
        "quick" stops within 2 % or 100 nodes of the program over the listed beds, "proven" within the study's
        gap or node limit.
    seed
        Of the study; with the yard's id it decides between like kinds.
    large_trees_max
        Most trees that grow taller than 9 m.
    together
        Which plants (P, P) may stand in one bed, as ``habits.share_ground`` tells; None: all.
    memo
        What was composed before for this yard from the same money, stock and wishes; it is added to.
    rich
        Whether many kinds come first; None: as ``wants_many_kinds`` says of this problem. Who chooses again
        keeps it: the worth of a choice is held against the bound of another with the same aims.

    Returns
    -------
    Choice
        Equal for equal input, whatever the machine's speed and whoever else takes part.
    """
    columns = list_columns(problem, habits, rules, seed, class_limit, together, memo)
    proven = effort == "proven"
    weighed = weigh(problem, columns, habits, rules)
    plan = choose_beds(
        problem,
        columns,
        weighed,
        large_trees_max=large_trees_max,
        rich=wants_many_kinds(problem, rules) if rich is None else rich,
        gap=problem.settings.gap if proven else QUICK_GAP,
        node_limit=problem.settings.node_limit if proven else QUICK_NODES,
    )
    by_site = np.zeros((len(problem.sites), len(problem.facts.plants)), np.int64)
    for c in plan.chosen:
        by_site[columns[c].site] = columns[c].counts
    counts = by_site[problem.site, problem.plant]
    chosen = allocations(problem, counts, planting_years(problem, counts))
    return Choice(
        yard_id=problem.yard.yard_id,
        allocations=tuple(_grouped(a, problem, habits, rules) for a in chosen),
        worth=plan.worth,
        bound=plan.bound,
        habitat_m2=predicted_habitat_m2(problem, weighed, plan.chosen),
        relaxed=relaxed_wishes(problem, counts),
        cost=float(sum(a.cost for a in chosen)),
    )


def estimated_habitat_m2(
    problem: YardProblem,
    habits: Habits,
    rules: BedRules,
    *,
    class_limit: float,
    seed: int = 0,
    together: Flags | None = None,
) -> dict[str, float]:
    """Return the habitat [m2] by butterfly of a plan chosen among few beds a place: quick, and not drawn.

    Takes what ``choose_communities`` does.
    """
    few = list_columns(problem, habits, rules, seed, class_limit, together, most_orders=FEW_ORDERS)
    weighed = weigh(problem, few, habits, rules)
    plan = choose_beds(problem, few, weighed, gap=QUICK_GAP, node_limit=QUICK_NODES)
    return predicted_habitat_m2(problem, weighed, plan.chosen)


def yard_program(
    problem: YardProblem,
    habits: Habits,
    rules: BedRules,
    *,
    class_limit: float,
    seed: int = 0,
    together: Flags | None = None,
) -> BedProgram:
    """Return the program over what each place of a yard could be planted with; see ``choose_communities``."""
    columns = list_columns(problem, habits, rules, seed, class_limit, together, any_money=True)
    rich = wants_many_kinds(problem, rules)
    return build_program(problem, columns, weigh(problem, columns, habits, rules), rich=rich)


def wants_many_kinds(problem: YardProblem, rules: BedRules) -> bool:
    """Return whether three kinds in bloom in each season come first: room for them, and a choice of kinds.

    Where few kinds may grow, hosts come first.
    """
    if problem.beds_m2 < rules.whole_from_m2:
        return False
    months = problem.facts.months[np.unique(problem.plant)]
    choice = [int((months & bits > 0).sum()) >= SEASON_CHOICE for bits in SEASON_BITS]
    return all(choice) and int((months > 0).sum()) >= 2 * rules.yard_kinds


def _grouped(allocation: Allocation, problem: YardProblem, habits: Habits, rules: BedRules) -> Allocation:
    """Return an allocation with its layer, and how many plants are set together."""
    p = problem.facts.plants.index(allocation.plant)
    count = allocation.count
    alone = bool(habits.woody[p])
    groups = (1,) * count if alone else group_sizes(count, rules.group_sizes, rules.repeats)
    return replace(allocation, layer=LAYERS[int(habits.layer[p])], groups=groups)

"""A plan in words: what each plant is for and why it stands there, and which wishes could not be met."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.factors import FACTORS
from habitat.knowledge.year import NECTAR_TIMES, NIGHT_SHORT
from habitat.planting.choice.builder import open_before, wanted_months
from habitat.planting.choice.problem import SEASONS, YardProblem
from habitat.planting.sites.supports import support_of
from habitat.planting.types import Allocation
from habitat.remarks import Remark, Subject, remark
from habitat.suitability.held_back import HeldBack
from habitat.terms import MONTHS

SUN_WORDS = ((6.0, "full sun"), (4.0, "part sun"), (2.0, "part shade"), (0.0, "shade"))
"""Hours a day from which a place has a name: rules sun_full_min, sun_part_low, sun_partshade_low of the
tables."""


MOST_OF_BED = 0.5
"""Share of a planting's places from which on what holds it back is said of all the bed: judgement."""

MONEY = Subject(household=("budget",))


def allocations(
    problem: YardProblem, counts: NDArray[np.int64], years: NDArray[np.int64]
) -> tuple[Allocation, ...]:
    """Return the rows of a plan: by bed site, then plant name.

    ``counts`` and ``years`` (K,) are plants per pair and the plan year they are planted in.
    """
    order = sorted(
        np.flatnonzero(counts), key=lambda k: (problem.site[k], problem.facts.plants[problem.plant[k]])
    )
    return tuple(_allocation(problem, int(k), int(counts[k]), int(years[k])) for k in order)


def _allocation(problem: YardProblem, k: int, count: int, year: int) -> Allocation:
    facts, p = problem.facts, int(problem.plant[k])
    eaters = np.flatnonzero(facts.preference[:, p] > 0)
    nectar = int(facts.months[p]) != 0
    purpose = {(True, True): "host and nectar", (True, False): "host", (False, True): "nectar"}
    return Allocation(
        site_id=problem.sites[problem.site[k]].site_id,
        plant=facts.plants[p],
        form=problem.yard.offer(facts, p).form,
        count=count,
        cost=round(count * float(problem.price[k]), 2),
        purpose=purpose.get((len(eaters) > 0, nectar), "shelter"),
        butterflies=tuple(facts.butterflies[b] for b in eaters),
        why=_why(problem, k, [facts.butterfly_common[b] for b in eaters]),
        year=year,
    )


def _why(problem: YardProblem, k: int, eaters: list[str]) -> str:
    facts, p = problem.facts, int(problem.plant[k])
    parts = []
    if eaters:
        parts.append(f"Host of the {list_words(eaters)}")
    if facts.months[p]:
        words = f"nectar in {month_words(int(facts.months[p]))}"
        parts.append(words if parts else words[0].upper() + words[1:])
    if not parts:
        parts.append("Bark to winter in")
    return "; ".join([*parts, *_support_words(problem, p)])


def _support_words(problem: YardProblem, p: int) -> list[str]:
    """Return what holds a vine and its price, which is in the plant's."""
    if not problem.facts.support[p]:
        return []
    support = support_of(float(problem.facts.height_m[p]), problem.settings.support_prices)
    return [f"on a support of its own ({support.kind}, {support.price:g} of the money)"] if support else []


GRADES = ("does well", "does fairly well", "gets by")
"""The three grades of a plant at its place, the best first."""


def grade_of(fit: float, class_limits: tuple[float, float, float]) -> str:
    """Return the grade of a fit [0-1] in words; what no class holds gets by at best.

    Examples
    --------
    >>> [grade_of(fit, (0.75, 0.5, 0.25)) for fit in (0.9, 0.6, 0.3, 0.1)]
    ['does well', 'does fairly well', 'gets by', 'gets by']
    """
    return next((g for g, least in zip(GRADES, class_limits, strict=True) if fit >= least), GRADES[-1])


def place_words(
    held: HeldBack, sun_h: float, assessed: Collection[str], class_limits: tuple[float, float, float]
) -> str:
    """Return how a plant finds its place, in words: its sun, then one of three grades and why.

    Parameters
    ----------
    held
        The plant over its places.
    sun_h
        Mean sun there [h a day], NaN where it is not known.
    assessed
        Factors that are assessed there.
    class_limits
        Least fit [0-1] of the three classes that are planted, the best first.

    Examples
    --------
    >>> limits, known = (0.75, 0.5, 0.25), {"sun_h", "drainage"}
    >>> place_words(HeldBack(0.6, "drainage", 0.9, "too much"), 7.24, known, limits)
    'full sun (7.2 h a day) here, a little too dry: mulch, and water in dry weeks'
    >>> place_words(HeldBack(0.9, "drainage", 0.3, "too much"), 7.24, known, limits)
    'full sun (7.2 h a day) here, does well'
    """
    if not assessed:
        return "neither sun nor soil was assessed"
    unknown = "sun not known here" if "sun_h" in assessed else "sun not assessed"
    sun = f"{sun_words(sun_h)} here" if np.isfinite(sun_h) else unknown
    if held.doubted and not held.need and held.fit <= 0.995:
        grade = next(
            (g for g, least in zip(GRADES, class_limits, strict=True) if held.fit >= least - 1e-9), GRADES[-1]
        )
        return f"{sun}, {grade} even where the maps are off"
    if held.fit >= class_limits[0] - 1e-9 or not held.need:
        return f"{sun}, {'all that was assessed fits' if held.fit > 0.995 else 'does well'}"
    return f"{sun}, {_miss_words(held, 'a little' if held.fit >= class_limits[1] - 1e-9 else 'rather')}"


def _miss_words(held: HeldBack, how: str) -> str:
    """Return in which direction a place misses what a plant wants, and what helps."""
    factor = FACTORS[held.need]
    low = held.side == "too little"
    state, helps = (factor.low_words, factor.low_help) if low else (factor.high_words, factor.high_help)
    part = "" if held.share > MOST_OF_BED else " in part of the bed"
    if held.side == "unknown":
        return f"{factor.words} is not known{part or ' here'} and counts as the worst that it could be"
    if not (held.side and state):
        return f"held back {'a little' if how == 'a little' else 'much'} by {factor.words}{part}"
    return f"{how} too {state}{part}" + (f": {helps}" if helps else "")


def sun_words(hours: float) -> str:
    """Return sun in words.

    Examples
    --------
    >>> sun_words(7.24)
    'full sun (7.2 h a day)'
    """
    return f"{next(word for least, word in SUN_WORDS if hours >= least)} ({hours:.1f} h a day)"


def month_words(bits: int) -> str:
    """Return a bit mask of months in words.

    Examples
    --------
    >>> month_words(0b11100000), month_words(0b100000)
    ('May to July', 'May')
    """
    months = [m for m in range(1, 13) if (bits >> m) & 1]
    if not months:
        return "no month"
    if len(months) == 1:
        return MONTHS[months[0] - 1]
    if months[-1] - months[0] + 1 == len(months):
        return f"{MONTHS[months[0] - 1]} to {MONTHS[months[-1] - 1]}"
    return list_words([MONTHS[m - 1] for m in months])


def list_words(words: list[str]) -> str:
    """Return words joined as in a sentence.

    Examples
    --------
    >>> list_words(["one", "two", "three"])
    'one, two and three'
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


@dataclass(frozen=True, slots=True)
class _Reached:
    """What a plan reaches: months in bloom, shares of a brood's need, and which plants (P,) it holds."""

    months: int
    fed: NDArray[np.float64]
    planned: NDArray[np.bool_]


def relaxed_wishes(problem: YardProblem, counts: NDArray[np.int64]) -> tuple[Remark, ...]:
    """Return what was wished for and could not be had, and why.

    The order in which wishes count: hosts and winter places by butterfly in the order of the wishes, bloom
    by month, stems to winter on, species in bloom per season.
    """
    reached, facts = _reached(problem, counts), problem.facts
    missing: list[Remark] = []
    for b in range(len(facts.butterflies)):
        missing += _butterfly_missing(problem, b, reached)
    lack = wanted_months(problem) & ~reached.months
    for m in (m for m in range(1, NECTAR_TIMES) if lack >> m & 1):
        because = (_bloom_reason(problem, 1 << m),)
        if m <= NIGHT_SHORT:
            missing.append(remark("no_nectar", month=m, because=because))
        else:
            missing.append(remark("no_night_nectar", month=(m - 1) % 12 + 1, because=because))
    if not (problem.standing.stems or facts.stems[reached.planned].any()):
        missing.append(remark("no_stems", because=(_reason(problem, facts.stems),)))
    return (*missing, *_thin_seasons(problem, reached))


def _reached(problem: YardProblem, counts: NDArray[np.int64]) -> _Reached:
    facts, need = problem.facts, problem.facts.need
    taken = np.flatnonzero(counts)
    number = np.zeros(len(facts.plants))
    np.add.at(number, problem.plant[taken], counts[taken])
    months = open_before(problem)
    for p in np.flatnonzero(number):
        months |= int(facts.months[p])
    fed = facts.leanest(problem.standing.fed + facts.meals @ (number / np.maximum(need, 1)))
    return _Reached(months, fed, number > 0)


def _butterfly_missing(problem: YardProblem, b: int, reached: _Reached) -> list[Remark]:
    facts, name = problem.facts, problem.facts.butterfly_common[b]
    about = Subject(butterflies=(facts.butterflies[b],))
    if reached.fed[b] < 1.0 - 1e-9:
        late = [remark("others_too_young", year=problem.settings.year)] if facts.too_young[b].any() else []
        because = (_host_reason(problem, b), *late)
        if reached.fed[b] > 0.0:
            return [remark("few_hosts", about, common_name=name, because=because)]
        return [remark("no_host", about, common_name=name, because=because)]
    winter, planned = int(facts.winter[b]), reached.planned
    if winter == 1 and not (planned.any() or problem.standing.plants):
        return [remark("no_litter", about, common_name=name, because=(remark("nothing_planned"),))]
    if winter == 2 and not (problem.standing.stems or facts.stems[planned].any()):
        return [remark("no_stems_for", about, common_name=name, because=(_reason(problem, facts.stems),))]
    if winter == 3 and not (problem.standing.bark or facts.bark[planned].any()):
        return [remark("no_bark", about, common_name=name, because=(_reason(problem, facts.bark),))]
    return []


def _host_reason(problem: YardProblem, b: int) -> Remark:
    facts = problem.facts
    hosts = facts.preference[b] > 0
    if not hosts.any():
        return remark("no_host_allowed")
    pairs = hosts[problem.plant]
    if not pairs.any():
        return _reason(problem, hosts)
    need = np.ceil(problem.facts.to_plant / np.maximum(facts.preference[b], 1e-9))
    least = np.maximum(need[problem.plant], problem.clump)[pairs] * problem.price[pairs]
    if least.min() > problem.yard.budget:
        return remark(
            "brood_too_dear",
            MONEY,
            cost=float(least.min()),
            budget=float(problem.yard.budget),
            currency=problem.settings.currency or "",
        )
    room = np.bincount(problem.plant[pairs], problem.capacity[pairs], len(facts.plants)) / need
    if room[hosts].max(initial=0.0) < 1.0:
        return remark("no_room_for_brood")
    return remark("others_worth_more")


def _bloom_reason(problem: YardProblem, bits: int) -> Remark:
    blooming = (problem.facts.months & bits) > 0
    return _reason(problem, blooming) if blooming.any() else remark("none_blooms")


def _reason(problem: YardProblem, wanted: NDArray[np.bool_]) -> Remark:
    """Say why none of some plants was taken: why each is blocked, or that others were worth more."""
    if not wanted.any():
        return remark("none_gives")
    if wanted[problem.plant].any():
        least = (problem.clump * problem.price)[wanted[problem.plant]].min()
        if least > problem.yard.budget:
            return remark(
                "clump_too_dear",
                MONEY,
                cost=float(least),
                budget=float(problem.yard.budget),
                currency=problem.settings.currency or "",
            )
        return remark("others_worth_more")
    count = Counter(reason for p in np.flatnonzero(wanted) if (reason := problem.blocked[p]) is not None)
    sun = [float(s.sun_h_mean) for s in problem.sites if np.isfinite(s.sun_h_mean)]
    kinds = tuple((number, reason) for reason, number in count.items())
    return remark("kinds_kept_out", kinds=kinds, most_sun_h=max(sun, default=None))


def _thin_seasons(problem: YardProblem, reached: _Reached) -> list[Remark]:
    facts, thin = problem.facts, []
    here = reached.planned | np.isin(facts.plants, sorted(problem.standing.plants))
    for name, months in SEASONS:
        mask = sum(1 << m for m in months) & facts.season_mask
        kinds = int(((facts.months & mask) > 0)[here].sum())
        wanted = int(problem.aims.season_wanted)
        if mask and kinds < wanted:
            thin.append(remark("few_in_season", season=name, kinds=kinds, wanted=wanted))
    return thin

"""Compiled loops that put beds together: plain arrays and tuples of them, nothing raised."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from habitat.arrays import Flags, Floats, Ints
from habitat.planting.communities.habits import GROUND, SEASON, STRUCTURE


class Kinds(NamedTuple):
    """Plants (P,) as a bed sees them.

    ground_m2 : of one plant [m2]. layer : structure, season or ground. most : how many can be had. calm_m2 :
    ground as far from people as each must stand [m2], inf where none must. blooms (3, P) : whether it blooms
    in a season. of_use : whether it has nectar or feeds a caterpillar. worth (M, P) : share of a meal that
    one plant feeds. together (P, P) : which may stand in one bed; (0, 0) for all.
    """

    ground_m2: Floats
    layer: Ints
    woody: Flags
    most: Floats
    calm_m2: Floats
    blooms: Flags
    of_use: Flags
    worth: Floats
    together: Flags


class Turns(NamedTuple):
    """Plants (indices) in the order in which they are taken; rows are filled up with -1.

    hosts (M, H) : by meal. bloom (3, B) : herbs with nectar, by season. others : all herbs. rich : those of
    them that have nectar and are no hosts. structure, grasses, low : by layer.
    """

    hosts: Ints
    bloom: Ints
    others: Ints
    rich: Ints
    structure: Ints
    grasses: Ints
    low: Ints


class Limits(NamedTuple):
    """What a bed may hold and should: numbers of ``BedRules`` for its ground.

    room_m2 (2, 2) : most ground of one kind [m2], [0] of the upper layers and [1] of the ground layer, [., 1]
    for the hosts of a brood. part_brood : least share of a brood's hosts that is set. fed_m2 : ground after
    which no further brood is set. structure_m2 : 0 where there is structure already. kinds : how many may
    stand in it.
    """

    area_m2: float
    covered_m2: float
    room_m2: Floats
    cover_times: float
    part_brood: float
    fed_m2: float
    least_m2: float
    ground_share: float
    structure_m2: float
    graminoid_share: float
    season_kinds: int
    enough_kinds: int
    yard_kinds: int
    kinds: int
    sizes: Ints


class Bed(NamedTuple):
    """A bed being put together: plants (P,), which may still come in (P,), ground by layer (3,) [m2]."""

    counts: Ints
    open_to: Flags
    taken: Floats


@njit(cache=True)
def odd_number(need: int, sizes: Ints) -> int:
    """Return the least whole number of groups of odd sizes that holds so many plants."""
    largest = sizes[len(sizes) - 1]
    groups = 1 if need <= largest else -(-need // largest)
    for size in sizes:
        if size * groups >= need:
            return groups * size
    return groups * largest


@njit(cache=True)
def _left_m2(bed: Bed, limits: Limits) -> float:
    return limits.covered_m2 - (bed.taken[0] + bed.taken[1] + bed.taken[2])


@njit(cache=True)
def _room_m2(bed: Bed, kinds: Kinds, limits: Limits, p: int, brood: int) -> float:
    """Return the ground [m2] that one kind may still take: its share of the bed, or one group of it."""
    each = kinds.ground_m2[p]
    most = limits.room_m2[1 if kinds.layer[p] == GROUND else 0, brood]
    room = max(most, limits.sizes[0] * each) - bed.counts[p] * each
    room = min(room, _left_m2(bed, limits), (kinds.most[p] - bed.counts[p]) * each)
    if not math.isfinite(kinds.calm_m2[p]):
        return room
    taken = 0.0
    for q in range(len(bed.counts)):
        if kinds.calm_m2[q] <= kinds.calm_m2[p]:
            taken += bed.counts[q] * kinds.ground_m2[q]
    return min(room, limits.cover_times * kinds.calm_m2[p] - taken)


@njit(cache=True)
def _add(bed: Bed, kinds: Kinds, p: int, count: int) -> None:
    """Set some plants; what does not share ground with them may no longer come in."""
    bed.counts[p] += count
    if len(kinds.together):
        for q in range(len(bed.open_to)):
            bed.open_to[q] = bed.open_to[q] and kinds.together[p, q]
    bed.taken[kinds.layer[p]] += count * kinds.ground_m2[p]


@njit(cache=True)
def _number(bed: Bed, kinds: Kinds, limits: Limits, p: int, need: float, brood: int) -> int:
    """Return how many are set for a need: woody ones singly, herbs in groups; 0 where there is no room."""
    whole = math.ceil(need - 1e-9)
    count = max(1, whole) if kinds.woody[p] else odd_number(whole, limits.sizes)
    return count if count * kinds.ground_m2[p] <= _room_m2(bed, kinds, limits, p, brood) + 1e-9 else 0


@njit(cache=True)
def _feed(bed: Bed, kinds: Kinds, limits: Limits, hosts: Ints, worth: Floats, whole: bool) -> None:
    """Set the hosts of one meal, the first for which there is room; else, or if not ``whole``, a part."""
    fed = 0.0
    for p in range(len(worth)):
        fed += worth[p] * bed.counts[p]
    if fed >= 1.0 - 1e-9:
        return
    for p in hosts:
        if whole and p >= 0 and bed.open_to[p]:
            number = _number(bed, kinds, limits, p, (1.0 - fed) / worth[p], 1)
            if number > 0:
                _add(bed, kinds, p, number)
                return
    if limits.part_brood < 1.0:
        _feed_in_part(bed, kinds, limits, hosts, worth, fed)


@njit(cache=True)
def _feed_in_part(bed: Bed, kinds: Kinds, limits: Limits, hosts: Ints, worth: Floats, fed: float) -> None:
    """Set as much of one host as there is room for in whole groups, of the host that feeds most so."""
    best, most = -1, 0
    for p in hosts:
        if p < 0 or not bed.open_to[p]:
            continue
        room = min(_room_m2(bed, kinds, limits, p, 1), limits.fed_m2 - bed.taken.sum())
        number = math.floor(room / kinds.ground_m2[p] + 1e-9)
        while number > 0 and _number(bed, kinds, limits, p, number, 1) != number:
            number -= 1
        more = best < 0 or number * worth[p] > most * worth[best] + 1e-9
        if number > 0 and more and fed + number * worth[p] >= limits.part_brood:
            best, most = p, number
    if best >= 0:
        _add(bed, kinds, best, most)


@njit(cache=True)
def _add_bloom(bed: Bed, kinds: Kinds, limits: Limits, turn: Ints, keep_m2: float) -> bool:
    """Set a group of the first new one of some kinds; whether there was room beside the ground layer."""
    least = min(3, limits.sizes[0])
    for p in turn:
        if p < 0 or not bed.open_to[p] or bed.counts[p] > 0:
            continue
        number = _number(bed, kinds, limits, p, least, 0)
        keep = 0.0 if kinds.layer[p] == GROUND else keep_m2 - bed.taken[GROUND]
        if number and number * kinds.ground_m2[p] <= _left_m2(bed, limits) - max(0.0, keep) + 1e-9:
            _add(bed, kinds, p, number)
            return True
    return False


@njit(cache=True)
def _bloom_once(bed: Bed, kinds: Kinds, limits: Limits, turns: Turns, have: Ints, ground_m2: float) -> bool:
    """Set one group for the season with fewest kinds for which there is room; whether there was any."""
    tried = np.zeros(3, np.bool_)
    for _ in range(3):
        least = -1
        for q in range(3):
            fewer = least < 0 or have[q] < have[least]
            if not tried[q] and have[q] < limits.season_kinds and fewer:
                least = q
        if least < 0:
            return False
        tried[least] = True
        if _add_bloom(bed, kinds, limits, turns.bloom[least], ground_m2):
            return True
    return False


@njit(cache=True)
def _bloom(bed: Bed, kinds: Kinds, limits: Limits, turns: Turns) -> None:
    """Set groups until each season has its kinds in bloom, the season with fewest first."""
    want = limits.season_kinds
    have = np.zeros(3, np.int64)
    for _ in range(3 * want):
        have[:] = 0
        for p in range(len(bed.counts)):
            if bed.counts[p] > 0:
                for q in range(3):
                    have[q] += kinds.blooms[q, p]
        ground = limits.ground_share * limits.area_m2 * 0.5
        if not _bloom_once(bed, kinds, limits, turns, have, ground):
            return


@njit(cache=True)
def _count(counts: Ints, which: Flags) -> int:
    found = 0
    for p in range(len(counts)):
        found += counts[p] > 0 and which[p]
    return found


@njit(cache=True)
def _structure(bed: Bed, kinds: Kinds, limits: Limits, turn: Ints) -> None:
    """Set lasting structure where there is none: a few tall herbs or grasses, or a shrub in a large bed."""
    share = limits.structure_m2
    if share <= 0.0 or bed.taken[STRUCTURE] >= 0.5 * share:
        return
    for p in turn:
        least = 1 if kinds.woody[p] else 3
        if bed.open_to[p] and bed.counts[p] == 0 and kinds.ground_m2[p] * least <= 2.0 * share:
            number = _number(bed, kinds, limits, p, least, 0)
            if number:
                _add(bed, kinds, p, number)
                return


@njit(cache=True)
def _first_open(bed: Bed, turn: Ints, out: Ints) -> int:
    """Write the first kinds of a turn that may come in into ``out``, and return how many."""
    n = 0
    for p in turn:
        if n < len(out) and bed.open_to[p]:
            out[n] = p
            n += 1
    return n


@njit(cache=True)
def _fill(bed: Bed, kinds: Kinds, limits: Limits, some: Ints, ground_m2: float) -> None:
    """Set some kinds over so much ground, in equal parts, each of at least a group."""
    for k in range(len(some)):
        p = some[k]
        if not bed.open_to[p]:
            continue
        each = kinds.ground_m2[p]
        part = min(ground_m2 / (len(some) - k), _room_m2(bed, kinds, limits, p, 0))
        number = math.floor(part / each + 1e-9)
        if number + bed.counts[p] >= limits.sizes[0] and number > 0:
            _add(bed, kinds, p, number)
            ground_m2 -= number * each


@njit(cache=True)
def _smallest_first(bed: Bed, kinds: Kinds) -> Ints:
    """Return the plants of the seasons that stand in a bed, by their ground, then in the order of plants."""
    out, n = np.empty(len(bed.counts), np.int64), 0
    ground = np.rint(bed.counts * kinds.ground_m2 * 1e9)
    for p in range(len(bed.counts)):
        if bed.counts[p] > 0 and kinds.layer[p] == SEASON:
            k = n
            while k > 0 and ground[out[k - 1]] > ground[p]:
                out[k] = out[k - 1]
                k -= 1
            out[k] = p
            n += 1
    return out[:n]


@njit(cache=True)
def _cover(bed: Bed, kinds: Kinds, limits: Limits, turns: Turns) -> None:
    """Cover what is left of the soil: low kinds, sedges and grasses among them; else more of the rest."""
    grasses, low = np.empty(3, np.int64), np.empty(3, np.int64)
    n_grasses, n_low = _first_open(bed, turns.grasses, grasses), _first_open(bed, turns.low, low)
    left = max(0.0, _left_m2(bed, limits))
    share = limits.graminoid_share if n_grasses and n_low else 1.0
    _fill(bed, kinds, limits, grasses[: min(2, n_grasses)], share * left)
    _fill(bed, kinds, limits, low[: min(2, n_low)], left)
    _fill(bed, kinds, limits, grasses[2:n_grasses], _left_m2(bed, limits))
    _fill(bed, kinds, limits, low[2:n_low], _left_m2(bed, limits))
    for p in _smallest_first(bed, kinds):
        step = 2.0 * kinds.ground_m2[p]
        while step <= _room_m2(bed, kinds, limits, p, 0) + 1e-9:
            _add(bed, kinds, p, 2)


@njit(cache=True)
def _put_together(bed: Bed, kinds: Kinds, turns: Turns, limits: Limits, wanted: Ints, whole: bool) -> bool:
    """Fill one bed; whether it is a community: kinds enough, and most of the soil covered."""
    for k in range(len(wanted)):
        meal = wanted[k]
        if meal >= 0 and (k == 0 or bed.taken.sum() < limits.fed_m2):
            _feed(bed, kinds, limits, turns.hosts[meal], kinds.worth[meal], whole)
    _bloom(bed, kinds, limits, turns)
    _structure(bed, kinds, limits, turns.structure)
    every = np.ones(len(bed.counts), np.bool_)
    for _ in range(limits.enough_kinds - _count(bed.counts, every)):
        if not _add_bloom(bed, kinds, limits, turns.others, 0.0):
            break
    keep = 0.5 * limits.ground_share * limits.area_m2
    for _ in range(limits.yard_kinds - _count(bed.counts, kinds.of_use)):
        if not _add_bloom(bed, kinds, limits, turns.rich, keep):
            break
    _cover(bed, kinds, limits, turns)
    enough = _count(bed.counts, every) >= min(limits.enough_kinds, limits.kinds)
    return enough and bed.taken.sum() >= limits.least_m2


@njit(cache=True)
def put_together(kinds: Kinds, turns: Turns, limits: Limits, open_to: Flags, orders: Ints) -> Ints:
    """Return the plants (N, P) of one bed for N orders of meals (N, K), filled up with -1.

    Zeros where they make no community.
    """
    out = np.zeros((len(orders), len(open_to)), np.int64)
    for n in range(len(orders)):
        found = False
        for part in range(2 if limits.part_brood < 1.0 else 1):
            if not found:
                out[n] = 0
                bed = Bed(out[n], open_to.copy(), np.zeros(3))
                found = _put_together(bed, kinds, turns, limits, orders[n], part == 0)
        if not found:
            out[n] = 0
    return out

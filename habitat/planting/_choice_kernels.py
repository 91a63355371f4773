"""Compiled parts of choosing: the worth of a plan, and the search from plan to plan."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

INFEASIBLE = -1e18


@njit(cache=True, nogil=True)
def next_random(state: Any) -> float:
    """Return the next number in [0, 1) of a 64-bit xorshift generator held in ``state`` (1,) uint64."""
    x = state[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    state[0] = x
    return float(x >> np.uint64(11)) / 9007199254740992.0


@njit(cache=True, nogil=True)
def worth_of(count: Any, active: Any, n_active: int, pairs: Any, plants: Any, yard: Any) -> float:
    """Return the worth of a plan, INFEASIBLE if it breaks a limit.

    ``count`` (K,) plants per pair; ``active`` (K,) the pairs with a count, the first ``n_active`` of them.
    The tuples are those of ``quick.kernel_arrays``.
    """
    site, plant, share, price, penalty, fit, chord_a, chord_b, cell, room = pairs
    preference, need, months, seasons, new, stems, bark, exempt, stock = plants
    weight, flight, nectar, winter, st_leaf, st_fed, limits, aims, open_bits = yard
    n_sites, n_plants, n_butterflies = room.shape[0], need.shape[0], weight.shape[0]
    filled = np.zeros(n_sites)
    of_plant = np.zeros(n_plants)
    number = np.zeros(n_plants)
    leaf = st_leaf.copy()
    fed = st_fed.copy()
    money, herb, cost = 0.0, 0.0, 0.0
    open_now, has_stems, has_bark = open_bits[0], open_bits[3], open_bits[4]
    for i in range(n_active):
        k = active[i]
        n, s, p = count[k], site[k], plant[k]
        filled[s] += n * share[k]
        money += n * price[k]
        cost += n * penalty[k]
        herb += n * cell[k]
        of_plant[p] += n * cell[k]
        number[p] += n
        open_now |= months[p]
        has_stems |= stems[p]
        has_bark |= bark[p]
        cover = chord_a[k, 0] + chord_b[k, 0] * n
        for c in range(1, chord_a.shape[1]):
            cover = min(cover, chord_a[k, c] + chord_b[k, c] * n)
        for b in range(n_butterflies):
            if preference[b, p] > 0.0:
                leaf[b] += cover * fit[k] * preference[b, p]
                fed[b] += n * preference[b, p] / need[p]
    slack = 1e-9
    if money > limits[0] + 1e-6:
        return INFEASIBLE
    for s in range(n_sites):
        if filled[s] > 1.0 + slack:
            return INFEASIBLE
    kinds, per_season = 0, np.zeros(3)
    for p in range(n_plants):
        if number[p] <= 0.0:
            continue
        if number[p] > stock[p] or of_plant[p] > limits[1] * herb + exempt[p] + slack:
            return INFEASIBLE
        if new[p]:
            kinds += 1
            for q in range(3):
                per_season[q] += (seasons[p] >> q) & 1
    worth = -cost
    for b in range(n_butterflies):
        kept = winter[b] == 0
        kept |= winter[b] == 1 and (n_active > 0 or open_bits[2] > 0)
        kept |= winter[b] == 2 and has_stems
        kept |= winter[b] == 3 and has_bark
        if fed[b] < 1.0 - slack or not kept:
            continue
        flown, served = 0, 0
        for m in range(1, 13):
            if (flight[b] >> m) & 1:
                flown += 1
                served += (open_now >> m) & 1
        bloom = 1.0
        if nectar[b] and flown > 0:
            bloom = served / flown
        worth += weight[b] * (min(leaf[b], limits[2]) * bloom + aims[0])
    gained = (open_now & ~open_bits[0]) & open_bits[1]
    for m in range(1, 13):
        worth += aims[1] * ((gained >> m) & 1)
    for q in range(3):
        worth += aims[2] * min(per_season[q], limits[3 + q])
    worth += aims[3] * min(kinds, limits[6])
    if has_stems and not open_bits[3]:
        worth += aims[4]
    return worth


@njit(cache=True, nogil=True)
def put(count: Any, active: Any, n_active: int, k: int, n: int) -> int:
    """Set the count of a pair, keep the list of active pairs in step, and return its new length."""
    had = count[k]
    count[k] = n
    if had == 0 and n > 0:
        active[n_active] = k
        return n_active + 1
    if had > 0 and n == 0:
        for i in range(n_active):
            if active[i] == k:
                active[i] = active[n_active - 1]
                return n_active - 1
    return n_active


@njit(cache=True, nogil=True)
def propose(count: Any, active: Any, n_active: int, bounds: Any, state: Any, changed: Any) -> int:
    """Change a plan at random: more, fewer, a new pair, a pair for another, plants moved between pairs.

    ``changed`` (4, 2) is filled with (pair, count before), newest last; returns the new number of active
    pairs, with ``changed[3, 0]`` holding how many entries there are.
    """
    capacity, clump, lone = bounds
    n_pairs = count.shape[0]
    kind = next_random(state)
    used = 0
    if kind < 0.55 or n_active == 0:
        k = int(next_random(state) * n_pairs)
        if count[k] == 0:
            target = clump[k]
            if not lone[k]:
                target = clump[k] + int(next_random(state) ** 2 * (capacity[k] - clump[k] + 1))
        else:
            target = 0
        changed[used, 0], changed[used, 1] = k, count[k]
        used += 1
        n_active = put(count, active, n_active, k, target)
        if target > 0 and kind < 0.4 and n_active > 1:
            j = active[int(next_random(state) * (n_active - 1))]
            if j != k:
                changed[used, 0], changed[used, 1] = j, count[j]
                used += 1
                n_active = put(count, active, n_active, j, 0)
    else:
        for turn in range(2):
            k = active[int(next_random(state) * n_active)]
            if lone[k] or (used == 1 and changed[0, 0] == k):
                continue
            step = 1 + int(next_random(state) ** 2 * 12)
            if (turn == 0) == (kind < 0.8):
                step = -step
            target = min(count[k] + step, capacity[k])
            if target < clump[k]:
                target = 0
            changed[used, 0], changed[used, 1] = k, count[k]
            used += 1
            n_active = put(count, active, n_active, k, target)
            if n_active == 0 or kind > 0.93:
                break
    changed[3, 0] = used
    return n_active


@njit(cache=True, nogil=True)
def anneal(start: Any, bounds: Any, arrays: Any, moves: int, heat: Any, state: Any) -> Any:
    """Search from a feasible plan by simulated annealing; return the best plan met.

    ``heat`` is (first, last) temperature in units of worth; cooling is geometric.
    """
    pairs, plants, yard = arrays
    count = start.copy()
    n_pairs = count.shape[0]
    active = np.zeros(n_pairs + 1, np.int64)
    n_active = 0
    for k in range(n_pairs):
        if count[k] > 0:
            active[n_active] = k
            n_active += 1
    now = worth_of(count, active, n_active, pairs, plants, yard)
    best, top = count.copy(), now
    changed = np.zeros((4, 2), np.int64)
    cooling = (heat[1] / heat[0]) ** (1.0 / max(moves, 1))
    warmth = heat[0]
    for _ in range(moves):
        warmth *= cooling
        n_active = propose(count, active, n_active, bounds, state, changed)
        then = worth_of(count, active, n_active, pairs, plants, yard)
        if then >= now or next_random(state) < np.exp((then - now) / warmth):
            now = then
            if now > top + 1e-12:
                top = now
                best[:] = count
        else:
            for i in range(changed[3, 0] - 1, -1, -1):
                n_active = put(count, active, n_active, changed[i, 0], changed[i, 1])
    return best


@njit(cache=True, nogil=True)
def climb(start: Any, bounds: Any, arrays: Any) -> Any:
    """Make the best single change again and again (one more or fewer, a clump in or out) until none helps."""
    pairs, plants, yard = arrays
    capacity, clump, lone = bounds
    count = start.copy()
    n_pairs = count.shape[0]
    active = np.zeros(n_pairs + 1, np.int64)
    n_active = 0
    for k in range(n_pairs):
        if count[k] > 0:
            active[n_active] = k
            n_active += 1
    now = worth_of(count, active, n_active, pairs, plants, yard)
    while True:
        best, pair, number = now + 1e-9, -1, 0
        for k in range(n_pairs):
            had = count[k]
            for option in range(3):
                target = had
                if option == 0:
                    target = clump[k] if had == 0 else min(had + 1, capacity[k])
                elif option == 1 and had > 0:
                    target = 0
                elif option == 2 and had > clump[k]:
                    target = had - 1
                if target == had or (lone[k] and target > clump[k]):
                    continue
                n_active = put(count, active, n_active, k, target)
                then = worth_of(count, active, n_active, pairs, plants, yard)
                n_active = put(count, active, n_active, k, had)
                if then > best:
                    best, pair, number = then, k, target
        if pair < 0:
            return count
        n_active = put(count, active, n_active, pair, number)
        now = best

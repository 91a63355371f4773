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
def bit_count(bits: int) -> int:
    """Return how many bits of a whole number are set."""
    total = 0
    while bits:
        bits &= bits - 1
        total += 1
    return total


@njit(cache=True, nogil=True)
def tally(count: Any, active: Any, n_active: int, pairs: Any, sites: Any, sums: Any) -> Any:
    """Add a plan up into clear ``sums``; return (money, cost, ground of herbs [m2], kinds).

    ``pairs`` (K, 5): share of the site, price, penalty, fit and ground of one plant; ``sites`` (K, 2):
    site, plant.
    """
    filled, of_plant, touched, _ = sums
    money, cost, herb, kinds = 0.0, 0.0, 0.0, 0
    for i in range(n_active):
        k = active[i]
        n, p = float(count[k]), sites[k, 1]
        filled[sites[k, 0]] += n * pairs[k, 0]
        money += n * pairs[k, 1]
        cost += n * pairs[k, 2]
        herb += n * pairs[k, 4]
        if of_plant[p, 0] == 0.0:
            touched[kinds] = p
            kinds += 1
        of_plant[p, 0] += n
        of_plant[p, 1] += n * pairs[k, 3]
        of_plant[p, 2] += n * pairs[k, 4]
    return money, cost, herb, kinds


@njit(cache=True, nogil=True)
def within_room(active: Any, n_active: int, sites: Any, filled: Any) -> bool:
    """Return whether every bed site has room for what stands there."""
    fullest = 0.0
    for i in range(n_active):
        fullest = max(fullest, filled[sites[active[i], 0]])
    return fullest <= 1.0 + 1e-9


@njit(cache=True, nogil=True)
def within_limits(herb: float, kinds: int, plants: Any, most: float, sums: Any) -> bool:
    """Return whether stock and the share of one species (at most ``most``) are kept."""
    _, of_plant, touched, _ = sums
    for i in range(kinds):
        p = touched[i]
        if of_plant[p, 0] > plants[p, 2] or of_plant[p, 2] > most * herb + plants[p, 1] + 1e-9:
            return False
    return True


@njit(cache=True, nogil=True)
def feed(kinds: int, plants: Any, first_eater: Any, eaters: Any, sums: Any) -> None:
    """Add the leaf of a plan and its share of a brood's need to what stands, per butterfly.

    ``plants`` (P, 3 + 2 C): need, ground that is never too much, stock, then the straight pieces of the leaf.
    """
    _, of_plant, touched, fed = sums
    pieces = (plants.shape[1] - 3) // 2
    for i in range(kinds):
        p = touched[i]
        if first_eater[p] == first_eater[p + 1]:
            continue
        leaf = plants[p, 3] + plants[p, 3 + pieces] * of_plant[p, 1]
        for c in range(1, pieces):
            leaf = min(leaf, plants[p, 3 + c] + plants[p, 3 + pieces + c] * of_plant[p, 1])
        for e in range(first_eater[p], first_eater[p + 1]):
            b = int(eaters[e, 0])
            fed[b, 0] += leaf * eaters[e, 1]
            fed[b, 1] += of_plant[p, 0] * eaters[e, 1] / plants[p, 0]


@njit(cache=True, nogil=True)
def habitat_worth(fed: Any, flights: Any, weight: Any, numbers: Any, bits: Any) -> float:
    """Return the weighted habitat of all butterflies, with what a closed life cycle is worth.

    ``fed`` (B, 2): leaf, share of a brood's need. ``flights`` (B, 4): months, their number, takes nectar,
    winter place. ``bits`` (4,): months in bloom, and whether there is anything, stems, bark.
    """
    worth = 0.0
    for b in range(weight.shape[0]):
        place = flights[b, 3]
        if fed[b, 1] < 1.0 - 1e-9 or (place > 0 and bits[place] == 0):
            continue
        bloom = 1.0
        if flights[b, 2] and flights[b, 1] > 0:
            bloom = bit_count(flights[b, 0] & bits[0]) / flights[b, 1]
        worth += weight[b] * (min(fed[b, 0], numbers[2]) * bloom + numbers[7])
    return worth


@njit(cache=True, nogil=True)
def kinds_worth(kinds: int, codes: Any, touched: Any, numbers: Any) -> float:
    """Return the worth of new nectar kinds, in all and by season, each up to what is wanted."""
    total, first, second, third = 0, 0, 0, 0
    for i in range(kinds):
        p = touched[i]
        if codes[p, 2]:
            total += 1
            first += codes[p, 1] & 1
            second += (codes[p, 1] >> 1) & 1
            third += (codes[p, 1] >> 2) & 1
    season = min(first, numbers[3]) + min(second, numbers[4]) + min(third, numbers[5])
    return float(numbers[9] * season + numbers[10] * min(total, numbers[6]))


@njit(cache=True, nogil=True)
def worth_of(count: Any, active: Any, n_active: int, arrays: Any, sums: Any) -> float:
    """Return the worth of a plan, INFEASIBLE if it breaks a limit.

    ``count`` (K,) plants per pair; ``active`` (K,) the pairs with a count, the first ``n_active`` of them;
    ``arrays`` as ``quick.kernel_arrays`` makes them, ``sums`` as ``new_sums`` does, clear before and after.
    """
    pairs, sites, plants, codes, first_eater, eaters, butterflies, flights, numbers, before, bed_cost = arrays
    filled, of_plant, touched, fed = sums
    money, cost, herb, kinds = tally(count, active, n_active, pairs, sites, sums)
    worth = INFEASIBLE
    fits = money <= numbers[0] + 1e-6 and within_room(active, n_active, sites, filled)
    if fits and within_limits(herb, kinds, plants, numbers[1], sums):
        months, stems, bark = 0, 0, 0
        for i in range(kinds):
            months |= codes[touched[i], 0]
            stems |= codes[touched[i], 3]
            bark |= codes[touched[i], 4]
        fed[:] = butterflies[:, 1:]
        feed(kinds, plants, first_eater, eaters, sums)
        open_now = months | before[0]
        bits = (open_now, before[1] | int(n_active > 0), before[2] | stems, before[3] | bark)
        worth = habitat_worth(fed, flights, butterflies[:, 0], numbers, bits)
        worth += kinds_worth(kinds, codes, touched, numbers) - cost - numbers[12] * n_active
        worth += numbers[8] * bit_count(open_now & ~before[0] & before[4])
        worth += numbers[11] * int(stems > before[2])
    for i in range(n_active):
        s = sites[active[i], 0]
        if filled[s] > 0.0:
            worth -= bed_cost[s]
        filled[s] = 0.0
    for i in range(kinds):
        of_plant[touched[i], :] = 0.0
    return worth


@njit(cache=True, nogil=True)
def new_sums(n_sites: int, n_plants: int, n_butterflies: int) -> Any:
    """Return clear room to add a plan up in.

    Filled share (S,); number, fit x number and ground (P, 3); plants touched (P,); leaf and share of a
    brood's need (B, 2).
    """
    return (
        np.zeros(n_sites),
        np.zeros((n_plants, 3)),
        np.zeros(n_plants, np.int64),
        np.zeros((n_butterflies, 2)),
    )


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
    capacity, clump, lone, choices, brood = bounds
    kind = next_random(state)
    used = 0
    if kind < 0.55 or n_active == 0:
        k = choices[int(next_random(state) ** 2 * choices.shape[0])]
        if count[k] == 0:
            target = clump[k]
            if not lone[k]:
                most = next_random(state)
                target = brood[k] if most < 0.6 else clump[k]
                if most > 0.8:
                    target = clump[k] + int((most - 0.8) * 5.0 * (capacity[k] - clump[k] + 1))
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
    sums = new_sums(arrays[10].shape[0], arrays[2].shape[0], arrays[6].shape[0])
    count = start.copy()
    n_pairs = count.shape[0]
    active = np.zeros(n_pairs + 1, np.int64)
    n_active = 0
    for k in range(n_pairs):
        if count[k] > 0:
            active[n_active] = k
            n_active += 1
    now = worth_of(count, active, n_active, arrays, sums)
    best, top = count.copy(), now
    changed = np.zeros((4, 2), np.int64)
    cooling = (heat[1] / heat[0]) ** (1.0 / max(moves, 1))
    warmth = heat[0]
    for _ in range(moves):
        warmth *= cooling
        n_active = propose(count, active, n_active, bounds, state, changed)
        then = worth_of(count, active, n_active, arrays, sums)
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
    sums = new_sums(arrays[10].shape[0], arrays[2].shape[0], arrays[6].shape[0])
    capacity, clump, lone, choices, brood = bounds
    count = start.copy()
    n_pairs = count.shape[0]
    active = np.zeros(n_pairs + 1, np.int64)
    n_active = 0
    for k in range(n_pairs):
        if count[k] > 0:
            active[n_active] = k
            n_active += 1
    now = worth_of(count, active, n_active, arrays, sums)
    while True:
        best, pair, number = now + 1e-9, -1, 0
        for k in choices:
            had = count[k]
            for option in range(4):
                target = had
                if option == 0:
                    target = clump[k] if had == 0 else min(had + 1, capacity[k])
                elif option == 3:
                    target = max(brood[k], had)
                elif option == 1 and had > 0:
                    target = 0
                elif option == 2 and had > clump[k]:
                    target = had - 1
                if target == had or (lone[k] and target > clump[k]):
                    continue
                n_active = put(count, active, n_active, k, target)
                then = worth_of(count, active, n_active, arrays, sums)
                n_active = put(count, active, n_active, k, had)
                if then > best:
                    best, pair, number = then, k, target
        if pair < 0:
            return count
        n_active = put(count, active, n_active, pair, number)
        now = best

"""Blocks of neighbours: up to five adjoining yards that together raise most, to knock at in one go."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from habitat.arrays import Floats, Shapes
from habitat.connectivity.invitations.gains import ChoiceGraph, Joint

GAP_M = 1.0
"""Yards whose outlines lie no further apart adjoin: judgement, since parcel lines are drawn apart."""
YARDS_MOST = 5
BLOCKS_TOLD = 3
TRY_UP_TO = 2_000
"""Sets up to which all are tried; beyond it blocks grow from each yard by the best neighbour."""
MOST_BYTES = 5e7
"""Memory for passages between all pairs beyond which blocks are not looked for: each try copies them."""


@dataclass(frozen=True, slots=True)
class Block:
    """Adjoining candidates (indices), what they add to each butterfly's linked ground [m2], and to the worth.

    proven : all sets were tried, so that no block beside those told before adds more.
    """

    candidates: tuple[int, ...]
    gains_m2: Floats
    worth: float
    proven: bool


def adjoining(shapes: Shapes) -> list[frozenset[int]]:
    """Return, for each yard, those that it adjoins.

    Examples
    --------
    >>> row = np.array([shapely.box(x, 0, x + 10, 10) for x in (0, 10, 30)], object)
    >>> adjoining(row)
    [frozenset({1}), frozenset({0}), frozenset()]
    """
    one, two = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=GAP_M)
    near: list[set[int]] = [set() for _ in shapes]
    for a, b in zip(one.tolist(), two.tolist(), strict=True):
        if a != b:
            near[a].add(b)
    return [frozenset(n) for n in near]


def best_blocks(
    graphs: list[ChoiceGraph],
    near: list[frozenset[int]],
    *,
    most: int = YARDS_MOST,
    told: int = BLOCKS_TOLD,
    spread: bool = False,
) -> list[Block]:
    """Return blocks of at least two yards, the one that adds most first; no yard stands in two of them.

    Parameters
    ----------
    graphs, spread
        As for ``choose``.
    near
        Whom each candidate adjoins.
    most
        Most yards of a block.
    told
        Most blocks.

    Notes
    -----
    A yard that joins lowers nothing, so only blocks that cannot grow, or have ``most`` yards, are compared.
    """
    if sum(8.0 * len(s.base) ** 2 for s in graphs) > MOST_BYTES:
        return []
    out: list[Block] = []
    free = set(range(len(near)))
    start = Joint(graphs, most, spread=spread)
    while len(out) < told:
        among = [near[k] & free if k in free else frozenset[int]() for k in range(len(near))]
        found = _best(start, among, most)
        if found is None or found.worth <= 0.0:
            break
        out.append(found)
        free -= set(found.candidates)
    return out


def _best(start: Joint, near: list[frozenset[int]], most: int) -> Block | None:
    sets = []
    for found in connected_sets(near, most):
        sets.append(found)
        if len(sets) > TRY_UP_TO:
            break
    every = len(sets) <= TRY_UP_TO
    tried = sets if every else [_grown(start, near, k, most) for k in range(len(near)) if near[k]]
    best: Block | None = None
    for yards in tried:
        joint = start.copy()
        for k in yards:
            joint.join(k)
        worth = joint.worth - start.worth
        if best is None or worth > best.worth * (1.0 + 1e-12):
            best = Block(tuple(sorted(yards)), joint.areas_m2 - start.areas_m2, worth, every)
    return best


def _grown(start: Joint, near: list[frozenset[int]], first: int, most: int) -> tuple[int, ...]:
    """Return a block grown from a yard, each time by the neighbour that adds most."""
    joint, yards = start.copy(), [first]
    joint.join(first)
    while len(yards) < most and (around := sorted(set().union(*(near[k] for k in yards)) - set(yards))):
        gains = joint.worth_gains([part.gains(np.array(around)) for part in joint.parts])
        yards.append(around[int(np.argmax(gains))])
        joint.join(yards[-1])
    return tuple(yards)


def connected_sets(near: list[frozenset[int]], size: int) -> Iterator[tuple[int, ...]]:
    """Yield each set of ``size`` adjoining yards once, and each smaller group of two or more that is whole.

    References
    ----------
    Wernicke 2006, IEEE/ACM Transactions on Computational Biology and Bioinformatics 3:347-359, which lists
    each connected set once by letting it grow only by yards of higher number than its first.
    """
    for first in range(len(near)):
        yield from _extended((first,), {k for k in near[first] if k > first}, near, size)
    for group in _groups(near):
        if 1 < len(group) < size:
            yield group


def _extended(
    yards: tuple[int, ...], grow: set[int], near: list[frozenset[int]], size: int
) -> Iterator[tuple[int, ...]]:
    if len(yards) == size:
        if size > 1:
            yield yards
        return
    grow = set(grow)
    seen = set(yards).union(*(near[k] for k in yards))
    while grow:
        new = min(grow)
        grow.discard(new)
        more = {k for k in near[new] if k > yards[0] and k not in seen}
        yield from _extended((*yards, new), grow | more, near, size)


def _groups(near: list[frozenset[int]]) -> Iterator[tuple[int, ...]]:
    left = set(range(len(near)))
    while left:
        group, edge = set[int](), {min(left)}
        while edge:
            group |= edge
            edge = set().union(*(near[k] for k in edge)) - group
        left -= group
        yield tuple(sorted(group))

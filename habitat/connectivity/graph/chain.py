"""Chains between anchors: the likeliest way, and where it is weakest."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.graph import _kernels
from habitat.connectivity.graph.passages import Graph


@dataclass(frozen=True, slots=True)
class Chain:
    """A best path: ``nodes`` from end to end, ``passages`` of its steps and their product."""

    nodes: tuple[int, ...]
    passages: tuple[float, ...]

    @property
    def passage(self) -> float:
        """Product of the passages of all steps."""
        return math.prod(self.passages)

    @property
    def weakest(self) -> int:
        """Index of the step with the lowest passage (the first of equals); -1 without steps."""
        return int(np.argmin(self.passages)) if self.passages else -1


def best_chain(graph: Graph, source: int, target: int) -> Chain | None:
    """Return the best path between two nodes, or None if no chain of links joins them."""
    g = graph
    back = _kernels.path_back(g.start, g.to, g.weight, g.owner, source, target, np.inf)
    if len(back) == 0:
        return None
    nodes = tuple(int(v) for v in back[::-1])
    return Chain(nodes, tuple(math.exp(-link_weight(g, a, b)) for a, b in itertools.pairwise(nodes)))


def link_weight(graph: Graph, a: int, b: int) -> float:
    """Return the weight of the link between two nodes, infinity if there is none."""
    row = slice(graph.start[a], graph.start[a + 1])
    at = np.flatnonzero(graph.to[row] == b)
    return float(graph.weight[row][at[0]]) if len(at) else math.inf


def anchor_chains(graph: Graph, anchors: NDArray[np.int64]) -> list[tuple[int, int, Chain | None]]:
    """Return the chains that join the anchors: the likeliest tree of best paths between them.

    One entry per joined or unjoined pair ``(anchor, anchor, chain or None)``; with n anchors n - 1 entries.
    """
    pairs = [(a, b, best_chain(graph, int(a), int(b))) for a, b in itertools.combinations(anchors, 2)]
    pairs.sort(key=lambda pair: -pair[2].passage if pair[2] is not None else 1.0)
    group = {int(a): int(a) for a in anchors}
    out = []
    for a, b, chain in pairs:
        if group[int(a)] != group[int(b)]:
            old, new = group[int(b)], group[int(a)]
            group = {k: new if v == old else v for k, v in group.items()}
            out.append((int(a), int(b), chain))
    return out

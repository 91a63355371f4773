"""Passage graphs: links as compressed rows without dominated ones; and how many threads work is worth."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from habitat.arrays import Floats, Ints, Short
from habitat.connectivity.graph import _kernels
from habitat.errors import ParameterError


@dataclass(frozen=True, slots=True)
class Graph:
    """An undirected graph of passages, both directions stored.

    start : (nodes + 1,) row limits. to : (2 links,) far ends. weight : (2 links,) ``-ln(passage)``,
    ascending in each row.
    """

    start: Ints
    to: Short
    weight: Floats

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return len(self.start) - 1

    @property
    def owner(self) -> Short:
        """Near ends (2 links,): worked out each time, so that it takes no memory."""
        return np.repeat(np.arange(self.nodes, dtype=np.int32), np.diff(self.start))

    def pairs(self) -> tuple[Ints, Ints, Floats]:
        """Return every link once as ``(i, j, weight)`` with i < j."""
        owner = self.owner
        once = owner < self.to
        return owner[once].astype(np.int64), self.to[once].astype(np.int64), self.weight[once]

    def subset(self, keep: NDArray[np.bool_]) -> Graph:
        """Return the graph of some nodes only, numbered anew in their order."""
        if keep.all():
            return self
        stay = np.repeat(keep, np.diff(self.start)) & keep[self.to]
        return self._part(stay, keep)

    def only(self, links: NDArray[np.bool_]) -> Graph:
        """Return the graph with some of the stored links only (both directions must be named)."""
        return self._part(links, np.ones(self.nodes, np.bool_))

    def _part(self, links: NDArray[np.bool_], keep: NDArray[np.bool_]) -> Graph:
        """Return the graph of some of the stored links and of the nodes that they join, numbered anew."""
        counted = np.cumsum(links, dtype=np.int32)
        before = np.where(self.start > 0, counted[self.start - 1], 0) if len(links) else self.start
        start = np.concatenate([[0], np.cumsum(np.diff(before)[keep])]).astype(np.int64)
        number = (np.cumsum(keep) - 1).astype(np.int32)
        return Graph(start, number[self.to[links]], self.weight[links])


def passage_graph(nodes: int, i: Ints, j: Ints, weight: Floats) -> Graph:
    """Build a graph from links given once each.

    Parameters
    ----------
    nodes
        Number of nodes.
    i, j
        Ends of each link, no pair twice, no loop.
    weight
        ``-ln(passage)`` of each link, 0 for a passage of 1; links of infinite weight are left out.

    Raises
    ------
    ParameterError
        If a weight is negative or not a number, or a link is a loop or leads out of range.
    """
    i, j = np.asarray(i, np.int64), np.asarray(j, np.int64)
    weight = np.asarray(weight, np.float64)
    if len(i) and (min(i.min(), j.min()) < 0 or max(i.max(), j.max()) >= nodes or np.any(i == j)):
        raise ParameterError("i, j", (i, j), f"different nodes from 0 to {nodes - 1}")
    if np.any(~(weight >= 0.0)):
        raise ParameterError("weight", float(weight[~(weight >= 0.0)][0]), "0 or more (passages up to 1)")
    open_ = np.isfinite(weight)
    if not open_.all():
        i, j, weight = i[open_], j[open_], weight[open_]
    start = np.zeros(nodes + 1, np.int64)
    np.cumsum(np.bincount(i, minlength=nodes) + np.bincount(j, minlength=nodes), out=start[1:])
    to, both = np.empty(2 * len(i), np.int32), np.empty(2 * len(i))
    for first, last in _blocks(start):
        here = [(end >= first) & (end < last) for end in (i, j)]
        near = np.concatenate([i[here[0]], j[here[1]]])
        far = np.concatenate([j[here[0]], i[here[1]]])
        crossed = np.concatenate([weight[here[0]], weight[here[1]]])
        order, rows = np.lexsort((far, crossed, near)), slice(start[first], start[last])
        to[rows], both[rows] = far[order], crossed[order]
    return Graph(start, to, both)


BLOCK = 1_000_000
"""Ends of links that are put in order together, so that no copies of graphs of millions of links are held."""


def _blocks(start: Ints) -> list[tuple[int, int]]:
    """Return runs of rows (first, last) that hold about ``BLOCK`` ends each."""
    cuts = np.searchsorted(start, np.arange(BLOCK, start[-1], BLOCK))
    limits = np.unique([0, *cuts, len(start) - 1]).tolist()
    return list(itertools.pairwise(limits))


@dataclass(frozen=True, slots=True)
class Returning:
    """Links that one node alone dominates: they come back when it goes.

    start : (nodes + 1,) row limits by that node. ends : (links, 2). passage : (links,).
    """

    start: Ints
    ends: Ints
    passage: Floats


def without_dominated(graph: Graph) -> tuple[Graph, Returning]:
    """Return the graph without dominated links, and those that come back when a node goes.

    A link i-j is dominated when some k has w_ik + w_kj <= w_ij: crossing a patch costs nothing, so no best
    path needs it. Best paths of the graph returned equal those of the whole graph. Without a node k they need
    the links back that k alone dominates.
    """
    with threads_for(float(len(graph.to)) ** 2 / max(graph.nodes, 1)):
        by = _kernels.only_dominator(graph.start, graph.to, graph.weight)
    owner = graph.owner
    once = np.flatnonzero((by >= 0) & (owner < graph.to))
    once = once[np.argsort(by[once], kind="stable")]
    start = np.zeros(graph.nodes + 1, np.int64)
    np.cumsum(np.bincount(by[once], minlength=graph.nodes), out=start[1:])
    ends = np.column_stack([owner[once], graph.to[once]]).astype(np.int64)
    return graph.only(by == -1), Returning(start, ends, np.exp(-graph.weight[once]))


def limit_of(cut: float) -> float:
    """Return the greatest weight that a passage of at least ``cut`` has."""
    return -math.log(cut) * (1.0 + 1e-12) if cut > 0.0 else math.inf


def components(graph: Graph) -> Ints:
    """Return the number of the component that each node belongs to, 0, 1, ... by lowest node."""
    return _kernels.label_groups(graph.start, graph.to)


# How many threads a compiled loop is worth: starting them costs more than small work takes.

SMALL_WORK = 5e7
"""Inner steps below which one thread is quicker than waking the others."""


@contextmanager
def threads_for(work: float) -> Iterator[None]:
    """Run what is inside with one thread if the work (inner steps) is small; results are the same."""
    before = numba.get_num_threads()
    numba.set_num_threads(before if work >= SMALL_WORK else 1)
    try:
        yield
    finally:
        numba.set_num_threads(before)

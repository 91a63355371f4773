"""A graph made ready for best passages between all nodes: ranks, shortcuts, a tree of elimination."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from habitat.arrays import Floats, Ints, Short
from habitat.connectivity.graph import _contraction_kernels as kernels
from habitat.connectivity.graph.passages import Graph

MOST_SHORTCUTS = 20_000_000
"""Links and shortcuts up to which a graph is eliminated (about 0.6 GB); a denser one is searched instead."""


@dataclass(frozen=True, slots=True)
class Elimination:
    """Links and shortcuts by rank, each stored with its end of lower rank.

    rank : (nodes,) rank of each node. node : (nodes,) node of each rank. start : (nodes + 1,) row limits.
    to, passage : ends of higher rank and the passage there. parent, size : (nodes,) the tree of elimination,
    -1 above a root; a subtree of ``size`` ends at its root. edge, around : rows of the nodes that all ways
    into a subtree lead over.
    """

    rank: Short
    node: Ints
    start: Ints
    to: Short
    passage: Floats
    parent: Short
    size: Short
    edge: Ints
    around: Short

    @property
    def rows(self) -> tuple[Ints, Short, Floats, Short, Short, Ints, Short]:
        """What the sweeps take, in their order."""
        return self.start, self.to, self.passage, self.parent, self.size, self.edge, self.around


def eliminate(graph: Graph) -> Elimination | None:
    """Return a graph by rank of elimination, None if that would take too many shortcuts."""
    gone = kernels.order_of_going(graph.start, graph.to, MOST_SHORTCUTS)
    if len(graph.to) and not len(gone[-1]):
        return None
    rank, parent, size = kernels.elimination_tree(*gone)
    edge, around, passage = kernels.rows_up(*gone, rank, graph.start, graph.to, graph.weight)
    kernels.add_shortcuts(edge, around, passage)
    start, to, kept = kernels.needed(edge, around, passage)
    return Elimination(rank, np.argsort(rank), start, to, kept, parent, size, edge, around)

"""A contracted graph, ready for best passages between all nodes: ranks, shortcuts, elimination tree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from habitat.arrays import Floats, Ints, Short
from habitat.connectivity.graph import _contraction_kernels as kernels
from habitat.connectivity.graph.passages import Graph

MOST_SHORTCUTS = 20_000_000
"""Links and shortcuts up to which a graph is contracted (about 0.6 GB); a denser one is searched instead."""


@dataclass(frozen=True, slots=True)
class Contraction:
    """Links and shortcuts by rank, each stored with its end of lower rank.

    rank : (nodes,) rank of each node. node : (nodes,) node of each rank. start : (nodes + 1,) row limits.
    to, passage : ends of higher rank and the passage there. parent, size : (nodes,) the elimination tree,
    -1 above a root; a subtree of ``size`` ends at its root. edge, around : rows of the nodes that all paths
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


def contract(graph: Graph) -> Contraction | None:
    """Return a contracted graph, None if that would take too many shortcuts.

    Notes
    -----
    Nodes are contracted in an order of about least degree, each leaving shortcuts between its neighbours
    where the best path led over it, so that best passages between what is left stay whole.

    References
    ----------
    The order: Amestoy, Davis & Duff 1996, SIAM J. Matrix Anal. Appl. 17:886-905. Shortcuts: Geisberger et al.
    2008, Contraction hierarchies, LNCS 5038:319-333 (memory).
    """
    gone = kernels.contraction_order(graph.start, graph.to, MOST_SHORTCUTS)
    if len(graph.to) and not len(gone[-1]):
        return None
    rank, parent, size = kernels.elimination_tree(*gone)
    edge, around, passage = kernels.rows_up(*gone, rank, graph.start, graph.to, graph.weight)
    kernels.add_shortcuts(edge, around, passage)
    start, to, kept = kernels.needed(edge, around, passage)
    return Contraction(rank, np.argsort(rank), start, to, kept, parent, size, edge, around)

"""Direct hops: which patches lie within reach of each other, edge to edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Hops:
    """Pairs of nodes i < j and the distance between them [m], 0 where they touch or overlap."""

    i: NDArray[np.int64]
    j: NDArray[np.int64]
    distance_m: NDArray[np.float64]

    def up_to(self, hop_m: float) -> Hops:
        """Return the hops that are not longer than ``hop_m``."""
        keep = self.distance_m <= hop_m
        return Hops(self.i[keep], self.j[keep], self.distance_m[keep])


def straight_hops(shapes: NDArray[np.object_], hop_m: float) -> Hops:
    """Return all hops up to a length, edge to edge.

    Parameters
    ----------
    shapes
        (nodes,) polygons, several parts allowed; overlapping and nested ones have distance 0.
    hop_m
        Longest hop [m].
    """
    tree = shapely.STRtree(shapes)
    i, j = tree.query(shapes, predicate="dwithin", distance=hop_m)
    i, j = i[i < j], j[i < j]
    return Hops(i.astype(np.int64), j.astype(np.int64), shapely.distance(shapes[i], shapes[j]))

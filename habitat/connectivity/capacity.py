"""Could it last? The metapopulation capacity of a state."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.linalg import ArpackNoConvergence, eigsh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
DENSE_UP_TO = 300

WORDS = (
    "The capacity to last counts how well breeding places can reseed each other. It takes colonists to "
    "fall off with distance as passage does, bigger places to lose their butterflies less often, weather "
    "to strike each place on its own, and the places to stay as they are for many years. It says by how "
    "much a plan raises the odds, not whether they are good enough: nobody knows that threshold here."
)
"""What the figure assumes, in plain words."""


def capacity(area_m2: Floats, i: Ints, j: Ints, passage: Floats) -> float:
    """Return the metapopulation capacity [m4].

    Parameters
    ----------
    area_m2
        (nodes,) habitat.
    i, j, passage
        Direct hops and their passages (0-1).

    Notes
    -----
    Leading eigenvalue of M, m_ij = exp(-k d_ij) A_i A_j, m_ii = 0.

    References
    ----------
    Hanski & Ovaskainen 2000, Nature 404:755-758.

    Examples
    --------
    >>> round(capacity(np.array([2.0, 3.0]), np.array([0]), np.array([1]), np.exp([-1.0])), 6)
    2.207277
    """
    n = len(area_m2)
    value = passage * area_m2[i] * area_m2[j]
    if n < 2 or not np.any(value > 0.0):
        return 0.0
    matrix = coo_array(
        (np.tile(value, 2), (np.concatenate([i, j]), np.concatenate([j, i]))), shape=(n, n)
    ).tocsr()
    if n <= DENSE_UP_TO:
        return float(np.linalg.eigvalsh(matrix.toarray())[-1])
    try:
        start = np.asarray(matrix.sum(axis=0)).ravel() + 1e-12
        return float(eigsh(matrix, k=1, which="LA", v0=start, return_eigenvectors=False)[0])
    except ArpackNoConvergence:
        return float(np.linalg.eigvalsh(matrix.toarray())[-1])

"""Weights of needs from comparing them two by two, for the weighted geometric mean.

References
----------
Saaty 1977, A scaling method for priorities in hierarchical structures, Journal of Mathematical Psychology
15:234-281: weights are the leading eigenvector; the random index for n = 3..10 is from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from habitat.errors import ParameterError

RANDOM_INDEX = (0.0, 0.0, 0.58, 0.90, 1.12, 1.24, 1.32, 1.41, 1.45, 1.49)
"""Mean consistency index of random tables of 1 to 10 items."""


@dataclass(frozen=True, slots=True)
class PairWeights:
    """``weights`` (n,) sum to 1; a ``consistency_ratio`` above about 0.1 means that comparisons clash."""

    weights: NDArray[np.float64]
    largest_eigenvalue: float
    consistency_index: float
    consistency_ratio: float


def pairwise_weights(table: ArrayLike) -> PairWeights:
    """Return weights from a table of comparisons.

    Parameters
    ----------
    table
        (n, n): how many times item i matters more than item j; ``table[j, i] = 1 / table[i, j]``.

    Raises
    ------
    ParameterError
        If it is not square, not positive or not reciprocal.

    Examples
    --------
    >>> pairwise_weights([[1, 2], [0.5, 1]]).weights.round(3).tolist()
    [0.667, 0.333]
    """
    a = np.asarray(table, float)
    square = a.ndim == 2 and a.shape[0] == a.shape[1] and 1 <= len(a) <= len(RANDOM_INDEX)
    if not square or not (a > 0).all() or not np.allclose(a * a.T, 1.0, rtol=1e-6):
        raise ParameterError("table", a.shape, "square, positive, reciprocal, for up to 10 items")
    values, vectors = np.linalg.eig(a)
    k = int(np.argmax(values.real))
    weights = np.abs(vectors[:, k].real)
    largest, n = float(values[k].real), len(a)
    index = max(0.0, (largest - n) / (n - 1)) if n > 1 else 0.0
    random = RANDOM_INDEX[n - 1]
    return PairWeights(weights / weights.sum(), largest, index, index / random if random else 0.0)

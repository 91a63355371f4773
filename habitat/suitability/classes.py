"""Land-evaluation classes: words first, limits from the study, given from unrounded scores.

References
----------
FAO 1976, A framework for land evaluation, Soils Bulletin 32, chapter 3 (orders and classes S1, S2, S3, N).
The usual limits 75, 50, 25 on an index are common practice (Sys et al. 1991, from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

ON_A_LIMIT = 2e-6
"""A score this near to a limit is on it: values are 32-bit, so that a pH of 7.4 is 7.4000001."""

CLASSES = ("S1", "S2", "S3", "N")
WORDS = {
    "S1": "highly suitable",
    "S2": "moderately suitable",
    "S3": "marginally suitable",
    "N": "not suitable",
    "": "undecided: something that matters is unknown here",
}


def classify(score: float, limits: tuple[float, float, float]) -> str:
    """Return S1, S2, S3 or N for an unrounded score; a score on a limit belongs to the better class.

    Parameters
    ----------
    score
        In [0, 1], or NaN: then the class is "".
    limits
        Lower limits of S1, S2 and S3, falling.

    Examples
    --------
    >>> [classify(s, (0.75, 0.5, 0.25)) for s in (1.0, 0.75, 0.7499, 0.25, 0.0)]
    ['S1', 'S1', 'S2', 'S3', 'N']
    """
    if np.isnan(score):
        return ""
    return next((c for c, limit in zip(CLASSES, limits, strict=False) if score >= limit - ON_A_LIMIT), "N")


def classify_between(low: float, high: float, limits: tuple[float, float, float]) -> str:
    """Return the class if the whole interval lies within one, else "" (undecided).

    Examples
    --------
    >>> classify_between(0.8, 1.0, (0.75, 0.5, 0.25)), classify_between(0.0, 1.0, (0.75, 0.5, 0.25))
    ('S1', '')
    """
    first, last = classify(low, limits), classify(high, limits)
    return first if first == last else ""


def class_number(scores: ArrayLike, limits: tuple[float, float, float]) -> NDArray[np.uint8]:
    """Return 1 (S1) to 4 (N) for unrounded scores of any shape, 0 where NaN."""
    values = np.asarray(scores, float)
    number = 4 - sum((values >= limit - ON_A_LIMIT).astype(np.uint8) for limit in limits)
    return np.where(np.isnan(values), 0, number).astype(np.uint8)


def class_words(name: str, limiting: str = "") -> str:
    """Return a class in words, with the limiting need where there is one.

    Examples
    --------
    >>> class_words("S2", "drainage")
    'moderately suitable, limited by drainage (S2)'
    """
    limited = f", limited by {limiting}" if limiting and name != "S1" else ""
    return f"{WORDS[name]}{limited}" + (f" ({name})" if name else "")

"""Words of the soil survey for reaction and drainage, with their ranks."""

from __future__ import annotations

import math

from habitat.factors.classes import DRAINAGE

REACTION = (
    (3.5, "ultra acid"),
    (4.5, "extremely acid"),
    (5.1, "very strongly acid"),
    (5.6, "strongly acid"),
    (6.1, "moderately acid"),
    (6.6, "slightly acid"),
    (7.4, "neutral"),
    (7.9, "slightly alkaline"),
    (8.5, "moderately alkaline"),
    (9.1, "strongly alkaline"),
    (math.inf, "very strongly alkaline"),
)
"""Reaction classes by the pH, to one decimal, that they stay below. Soil Survey Manual (2017), chapter 3."""


def reaction_class(ph: float) -> str:
    """Return the reaction class of a pH, "" if unknown.

    Parameters
    ----------
    ph
        Rounded to one decimal first, halves up; NaN for unknown.

    References
    ----------
    Soil Science Division Staff (2017), Soil Survey Manual, USDA Handbook 18, chapter 3.

    Examples
    --------
    >>> reaction_class(6.5), reaction_class(6.55), reaction_class(float("nan"))
    ('slightly acid', 'neutral', '')
    """
    if not math.isfinite(ph):
        return ""
    rounded = math.floor(ph * 10 + 0.5 + 1e-9) / 10
    return next(word for below, word in REACTION if rounded < below - 1e-9)


def drainage_word(rank: float) -> str:
    """Return the natural drainage class of a rank, "" if unknown.

    Parameters
    ----------
    rank
        1 very poorly to 7 excessively drained; the nearest class is taken for ranks between, halves up.

    Examples
    --------
    >>> drainage_word(5), drainage_word(2.5), drainage_word(float("nan"))
    ('well drained', 'somewhat poorly drained', '')
    """
    return DRAINAGE[min(7, max(1, math.floor(rank + 0.5))) - 1] if math.isfinite(rank) else ""

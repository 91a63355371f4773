"""Words of the soil survey for reaction and drainage, with their ranks."""

from __future__ import annotations

import math
import re

DRAINAGE = (
    "very poorly drained",
    "poorly drained",
    "somewhat poorly drained",
    "moderately well drained",
    "well drained",
    "somewhat excessively drained",
    "excessively drained",
)
"""Natural drainage classes, wet to dry; a class's rank is its place here, from 1.

Soil Science Division Staff (2017), Soil Survey Manual, USDA Handbook 18, chapter 3 (its "subaqueous" is open
water).
"""

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
    """Return the reaction class of a pH, rounded to one decimal first, halves up; "" if unknown.

    Examples
    --------
    >>> reaction_class(6.5), reaction_class(6.55), reaction_class(float("nan"))
    ('slightly acid', 'neutral', '')
    """
    if not math.isfinite(ph):
        return ""
    rounded = math.floor(ph * 10 + 0.5 + 1e-9) / 10
    return next(word for below, word in REACTION if rounded < below - 1e-9)


def drainage_rank(value: object) -> float:
    """Return the rank 1-7 of a drainage class given in words or as a rank, NaN for anything else.

    Examples
    --------
    >>> drainage_rank("Somewhat poorly"), drainage_rank("5"), drainage_rank("soggy")
    (3.0, 5.0, nan)
    """
    words = " ".join(str(value).strip().lower().replace("-", " ").replace("_", " ").split())
    for rank, name in enumerate(DRAINAGE, start=1):
        if words in (name, name.removesuffix(" drained")):
            return float(rank)
    try:
        rank_given = float(words)
    except ValueError:
        return math.nan
    return rank_given if 1 <= rank_given <= 7 else math.nan


def zone_number(value: object) -> float:
    """Return a hardiness zone as a number: "6a" is 6.0, "6b" 6.5, "6" 6.0; NaN for anything else.

    Examples
    --------
    >>> zone_number("6b"), zone_number(7), zone_number("warm")
    (6.5, 7.0, nan)
    """
    found = re.fullmatch(r"(?:zone\s*)?(\d{1,2}(?:\.\d+)?)\s*([ab]?)", str(value).strip().lower())
    return float(found[1]) + (0.5 if found[2] == "b" else 0.0) if found else math.nan


def drainage_word(rank: float) -> str:
    """Return the drainage class of a rank, the nearest one for ranks between, "" if unknown."""
    return DRAINAGE[min(7, max(1, math.floor(rank + 0.5))) - 1] if math.isfinite(rank) else ""

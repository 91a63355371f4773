"""Names of the soil survey's ordered classes, and the numbers that they and hardiness zones stand for."""

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

TEXTURES = (
    "sand",
    "loamy sand",
    "sandy loam",
    "loam",
    "silt loam",
    "silt",
    "sandy clay loam",
    "clay loam",
    "silty clay loam",
    "sandy clay",
    "silty clay",
    "clay",
)
"""The twelve USDA texture classes; a class's number is its place here, from 1. Source as above."""


def drainage_rank(value: object) -> float:
    """Return the rank 1-7 of a drainage class given in words or as a rank, NaN for anything else.

    Examples
    --------
    >>> drainage_rank("Somewhat poorly"), drainage_rank("5"), drainage_rank("soggy")
    (3.0, 5.0, nan)
    """
    words = plain(value)
    for rank, name in enumerate(DRAINAGE, start=1):
        if words in (name, name.removesuffix(" drained")):
            return float(rank)
    try:
        rank_given = float(words)
    except ValueError:
        return math.nan
    return rank_given if 1 <= rank_given <= len(DRAINAGE) else math.nan


def texture_number(name: object) -> float:
    """Return the number of a texture class from its name in words, NaN for a name that is none.

    Examples
    --------
    >>> texture_number("Silt-loam"), texture_number("peat")
    (5.0, nan)
    """
    words = plain(name)
    return float(TEXTURES.index(words) + 1) if words in TEXTURES else math.nan


def zone_number(value: object) -> float:
    """Return a hardiness zone as a number: "6a" is 6.0, "6b" 6.5, "6" 6.0; NaN for anything else.

    Examples
    --------
    >>> zone_number("6b"), zone_number(7), zone_number("warm")
    (6.5, 7.0, nan)
    """
    found = re.fullmatch(r"(?:zone\s*)?(\d{1,2}(?:\.\d+)?)\s*([ab]?)", str(value).strip().lower())
    return float(found[1]) + (0.5 if found[2] == "b" else 0.0) if found else math.nan


def plain(value: object) -> str:
    """Return text in lower case with one blank between words, hyphens and underscores being blanks."""
    return " ".join(str(value).strip().lower().replace("-", " ").replace("_", " ").split())

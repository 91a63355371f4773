"""Texture classes of the soil by sand and clay."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

PARTS = ("sand_pct", "silt_pct", "clay_pct")
"""Shares of the fine earth, which are no factors themselves: any two of them make the texture."""

PERCENT = (0.0, 100.0)
"""What a share can be."""

CENTRES = (
    (88, 5),
    (80, 5),
    (65, 10),
    (40, 20),
    (20, 15),
    (10, 5),
    (60, 25),
    (30, 35),
    (10, 35),
    (50, 40),
    (10, 45),
    (25, 50),
)
"""Sand and clay [%] that stand for each class: Saxton & Rawls (2006), table 3."""


def texture_class(sand_pct: ArrayLike, clay_pct: ArrayLike) -> NDArray[np.float32]:
    """Return the number of the USDA texture class, 1 sand to 12 clay.

    Parameters
    ----------
    sand_pct, clay_pct
        Shares of the fine earth [%], any shape; silt is the rest.

    Returns
    -------
    NDArray
        float32, NaN where a share is unknown, negative, or sand and clay are more than 100 together.

    Notes
    -----
    Borders are half open, as the rules below read: the first that holds wins. On sand = 45 %, where the
    manual's own text gives two classes, the clay loam and clay side wins.

    References
    ----------
    Soil Science Division Staff (2017), Soil Survey Manual, USDA Handbook 18, chapter 3.

    Examples
    --------
    >>> from habitat.factors.classes import TEXTURES
    >>> [TEXTURES[int(n) - 1] for n in texture_class([40, 78, 20], [20, 10, 60])]
    ['loam', 'sandy loam', 'clay']
    """
    s, c = np.asarray(sand_pct, float), np.asarray(clay_pct, float)
    i = 100.0 - s - c
    rules = [
        i + 1.5 * c < 15,
        i + 2 * c < 30,
        ((c >= 7) & (c < 20) & (s > 52)) | ((c < 7) & (i < 50)),
        (c >= 7) & (c < 27) & (i >= 28) & (i < 50) & (s <= 52),
        ((i >= 50) & (c >= 12) & (c < 27)) | ((i >= 50) & (i < 80) & (c < 12)),
        (i >= 80) & (c < 12),
        (c >= 20) & (c < 35) & (i < 28) & (s > 45),
        (c >= 27) & (c < 40) & (s > 20) & (s <= 45),
        (c >= 27) & (c < 40) & (s <= 20),
        (c >= 35) & (s > 45),
        (c >= 40) & (i >= 40),
        (c >= 40) & (s <= 45) & (i < 40),
    ]
    known = (s >= 0) & (c >= 0) & (i >= 0)
    number = np.select(rules, range(1, 13), default=0)
    return np.where(known & (number > 0), number, np.nan).astype(np.float32)

"""What a designer asks of plants: which layer of a bed each belongs to, and how many go together."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.arrays import Flags, Floats, Ints
from habitat.factors import FACTORS
from habitat.planting.communities.rules import LAYERS, BedRules
from habitat.suitability.types import Needs

STRUCTURE, SEASON, GROUND = (LAYERS.index(name) for name in LAYERS)


@dataclass(frozen=True, slots=True)
class Habits:
    """Plants (P,) as a bed sees them.

    layer : index into ``LAYERS``. woody, vine, graminoid, evergreen : what they are. tree : needs a place of
    its own. spacing_m : as planted here. ground_m2 : ground of one plant at that spacing, on a triangular
    lattice. height_m : when grown.
    """

    layer: Ints
    woody: Flags
    tree: Flags
    vine: Flags
    graminoid: Flags
    evergreen: Flags
    spacing_m: Floats
    ground_m2: Floats
    height_m: Floats

    def __len__(self) -> int:
        return len(self.layer)


def read_habits(plants: pd.DataFrame, rules: BedRules) -> Habits:
    """Return the habits of plants.

    Parameters
    ----------
    plants
        Rows of the plant table: form, height_m, spread_m, spacing_m; leaf_habit where it is told.
    rules
        Heights that part the layers.

    Examples
    --------
    >>> table = pd.DataFrame({
    ...     "form": ["forb", "graminoid", "forb", "shrub"], "height_m": [0.2, 0.3, 0.8, 2.0],
    ...     "spread_m": [0.3, 0.3, 0.5, 2.0], "spacing_m": [0.3, 0.3, 0.5, 1.8]})
    >>> [LAYERS[k] for k in read_habits(table, BedRules()).layer]
    ['ground', 'ground', 'season', 'structure']
    """
    form = plants["form"].astype(str).to_numpy()
    height = plants["height_m"].to_numpy(float)
    woody = np.isin(form, ("shrub", "tree", "vine"))
    graminoid = form == "graminoid"
    # A tuft of grass up to knee height covers soil; a forb of that height is seen.
    low = np.where(graminoid, rules.low_m + 0.25, rules.low_m)
    layer = np.where(woody | (height >= rules.tall_m), STRUCTURE, np.where(height <= low, GROUND, SEASON))
    habit = plants["leaf_habit"].astype(str) if "leaf_habit" in plants else pd.Series("", index=plants.index)
    spacing = plants["spacing_m"].to_numpy(float)
    spacing = np.where(layer == GROUND, np.maximum(spacing, rules.ground_spacing_m), spacing)
    return Habits(
        layer=layer.astype(np.int64),
        woody=woody,
        tree=form == "tree",
        vine=form == "vine",
        graminoid=graminoid,
        evergreen=(habit == "evergreen").to_numpy(bool),
        spacing_m=spacing,
        ground_m2=_ground_m2(spacing),
        height_m=height,
    )


def _ground_m2(spacing_m: NDArray[np.float64]) -> Floats:
    """Return the ground of one plant [m2]: half the root of 3 times spacing squared, a triangular lattice."""
    return np.asarray(np.sqrt(0.75) * spacing_m**2)


SHARED_FACTORS = ("drainage", "ph", "sun_h")
"""What the kinds of one bed share: moisture, reaction and light."""


def share_ground(needs: Needs, assessed: Collection[str]) -> Flags:
    """Return which plants (P, P) may stand in one bed, since they want the same moisture, reaction and light.

    Parameters
    ----------
    needs
        What plants want.
    assessed
        Factors that are known where the bed is. Of these the ranges that plants live in must overlap; of the
        others those in which they do well, so that one place can suit them all: since the ranges of any two
        overlap, there is a value in all of them.

    Examples
    --------
    >>> from habitat.suitability import build_needs
    >>> dry, wet, wide = (4, 5, 7, 8), (0, 1, 3, 6), (0, 2, 6, 8)
    >>> needs = build_needs({n: {"drainage": r} for n, r in (("dry", dry), ("wet", wet), ("wide", wide))})
    >>> share_ground(needs, ()).astype(int).tolist()
    [[1, 0, 1], [0, 1, 1], [1, 1, 1]]
    >>> bool(share_ground(needs, {"drainage"}).all())
    True
    """
    out = np.ones((len(needs.plants), len(needs.plants)), bool)
    for name in SHARED_FACTORS:
        ends = needs.tables["ranges"][:, FACTORS.names.index(name)]
        low, high = (ends[:, 0], ends[:, 3]) if name in assessed else (ends[:, 1], ends[:, 2])
        first, last = np.fmax(low[:, None], low), np.fmin(high[:, None], high)
        out &= ~(first >= last) if name in assessed else ~(first > last)
    return out | np.eye(len(out), dtype=bool)


def group_sizes(count: int, sizes: tuple[int, ...], repeats: int) -> tuple[int, ...]:
    """Return how ``count`` plants of one kind part into groups: few, of like odd sizes, nobody left over.

    Parameters
    ----------
    count
        Plants of one kind in one bed.
    sizes
        Odd sizes of groups, ascending.
    repeats
        Most groups.

    Examples
    --------
    >>> group_sizes(5, (3, 5, 7, 9), 3), group_sizes(14, (3, 5, 7, 9), 3), group_sizes(2, (3, 5, 7, 9), 3)
    ((5,), (7, 7), (2,))
    >>> group_sizes(40, (3, 5, 7, 9), 3)
    (13, 13, 14)
    """
    if count <= sizes[-1]:
        return (count,) if count else ()
    number = min(repeats, -(-count // sizes[-1]))
    small, more = divmod(count, number)
    return tuple(small + (k >= number - more) for k in range(number))

"""What holds a plant back over some places: the need that costs it most, where, and in which direction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.factors import FACTORS
from habitat.suitability.fit import score
from habitat.suitability.types import NO_LIMIT, Needs

SIDES = ("too little", "too much", "unknown")
"""Directions in which a place can miss what a plant wants."""


@dataclass(frozen=True, slots=True)
class HeldBack:
    """A plant over some places.

    fit : mean lower bound [0-1]. need : the factor that costs most of it, "" where nothing does. share : of
    the places, those where that need is the one that counts [0-1]. side : of ``SIDES``, "" without a need.
    doubted : the maps' stated errors cost more than any need.
    """

    fit: float
    need: str = ""
    share: float = 0.0
    side: str = ""
    doubted: bool = False


def held_back(needs: Needs, plant: str, values: Mapping[str, NDArray[np.float32]]) -> HeldBack:
    """Return how a plant fits some places, and what costs it most there.

    Parameters
    ----------
    needs
        As ``build_needs`` or ``compile_needs`` return it.
    plant
        Accepted name, among ``needs.plants``.
    values
        Factor -> (places,) float32 in its unit, NaN where unknown.

    Returns
    -------
    HeldBack
        A need costs the sum of 1 - score over the places where it limits; at a tie the first of ``FACTORS``.

    Examples
    --------
    Half of a bed has 5 h of sun where a milkweed wants 6 and lives from 4 on:

    >>> from habitat.suitability import build_needs
    >>> needs = build_needs({"milkweed": {"sun_h": (4, 6, np.inf, np.inf)}})
    >>> held_back(needs, "milkweed", {"sun_h": np.array([5.0, 8.0], np.float32)})
    HeldBack(fit=0.75, need='sun_h', share=0.5, side='too little', doubted=False)
    """
    rows = {name: np.asarray(v, np.float32)[None, :] for name, v in values.items() if name in needs.assessed}
    if not rows:
        return HeldBack(1.0)
    shape = (1, next(iter(rows.values())).shape[1])
    plain = score(needs, plant, rows, shape=shape)
    sure = score(needs, plant, rows, shape=shape, sure=True).low[0] if "doubt" in needs.tables else None
    low, code = plain.low[0], plain.limiting[0]
    fit = float((low if sure is None else sure).mean())
    cost = np.bincount(code, 1.0 - low, NO_LIMIT + 1)
    doubt = 0.0 if sure is None else float((low - sure).sum())
    cost[NO_LIMIT] = 0.0
    worst = int(np.argmax(np.round(cost, 9)))
    if cost[worst] <= 1e-9 or doubt > cost[worst]:
        return HeldBack(fit, doubted=doubt > 1e-9)
    mine = code == worst
    name = FACTORS.names[worst]
    share = float((mine & (low < 1.0)).mean())
    return HeldBack(fit, name, share, _side(needs, plant, name, rows[name][0][mine], 1.0 - low[mine]))


def _side(needs: Needs, plant: str, name: str, value: NDArray[np.float32], loss: NDArray[np.float64]) -> str:
    """Return in which direction places miss what a plant wants, by what it costs."""
    _, first, last, _ = needs.tables["ranges"][needs.plants.index(plant), FACTORS.names.index(name)]
    parts = [loss[value < first].sum(), loss[value > last].sum(), loss[np.isnan(value)].sum()]
    return SIDES[int(np.argmax(np.round(parts, 9)))]

"""How many planted plants live on, by plant and kind of ground, held against published rates."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.errors import ParameterError

Z_95 = 1.959964
"""Two-sided 95 % point of the normal distribution."""

ENOUGH_CASES = 20
"""From so many plants on, what was observed is used; below, it is shown only."""

WET, MOIST, DRY, UNKNOWN = "wet", "moist", "well drained", "unknown"
"""Kinds of ground, by natural drainage class: judgement where one ends and the next begins."""

LAST_WET, LAST_MOIST = 2, 4
"""Last codes of wet and of moist ground: 2 poorly drained, 4 moderately well drained."""

PUBLISHED: dict[str, tuple[float, float, str]] = {
    "plug": (0.80, 0.95, "watered and weeded plugs alive after one year: memory"),
    "seed": (0.05, 0.10, "sown native seeds that come up: Williams et al. 2007"),
}
"""Low and high share [0-1] alive after the first year by form, and its source; of others none was found."""

SEVEN_YEARS = 0.57
"""Share of groups of four woodland perennials still there after seven years, mean of 24 species, without
weeding: Seven-year survival of perennial herbaceous transplants, Restoration Ecology 2006,
doi 10.1111/j.1526-100X.2006.00141.x (abstract)."""


@dataclass(frozen=True, slots=True)
class Lot:
    """Plants of one kind that went into one kind of ground, and how many of them lived on to be counted."""

    plant: str
    form: str
    ground: str
    planted: int
    alive: int

    def __post_init__(self) -> None:
        if not 0 <= self.alive <= self.planted:
            raise ParameterError("alive", self.alive, f"0 to {self.planted}, as many as were planted")


def wilson(alive: int, planted: int, z: float = Z_95) -> tuple[float, float]:
    """Return the score interval of a share: what the true one may well be, given so many cases.

    Parameters
    ----------
    alive, planted
        Cases that went well, of how many (1 or more).
    z
        Point of the normal distribution; 95 % by default.

    Returns
    -------
    tuple
        Low and high share, 0 to 1.

    Raises
    ------
    ParameterError
        If there is no case, or more went well than there were.

    References
    ----------
    Wilson E.B. (1927) Probable inference, the law of succession, and statistical inference. Journal of the
    American Statistical Association 22, 209-212; recommended for few cases by Brown, Cai and DasGupta (2001)
    Interval estimation for a binomial proportion. Statistical Science 16, 101-133.

    Examples
    --------
    >>> tuple(round(share, 3) for share in wilson(8, 10))
    (0.49, 0.943)
    """
    if planted < 1 or not 0 <= alive <= planted:
        raise ParameterError("alive, planted", (alive, planted), "0 <= alive <= planted, planted at least 1")
    share, spread = alive / planted, z * z / planted
    middle = (share + spread / 2) / (1 + spread)
    half = z / (1 + spread) * math.sqrt(share * (1 - share) / planted + spread / (4 * planted))
    return max(0.0, middle - half), min(1.0, middle + half)


COLUMNS = ("plant", "form", "ground", "planted", "alive", "share", "low", "high")


def observed(lots: Iterable[Lot]) -> pd.DataFrame:
    """Return a row per plant, form and kind of ground: counts, share [0-1] and its interval (``wilson``)."""
    sums: dict[tuple[str, str, str], list[int]] = {}
    for lot in lots:
        found = sums.setdefault((lot.plant, lot.form, lot.ground), [0, 0])
        found[0] += lot.planted
        found[1] += lot.alive
    rows = [
        (*key, planted, alive, alive / planted, *wilson(alive, planted))
        for key, (planted, alive) in sorted(sums.items())
        if planted > 0
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def spare_shares(lots: Iterable[Lot]) -> dict[tuple[str, str], float]:
    """Return by plant and form how many more to plant per plant wanted, where enough cases tell.

    That is 1 / share - 1, all kinds of ground together; no more than 1, since where fewer than half live
    another plant is the answer (judgement).

    Examples
    --------
    >>> spare_shares([Lot("Zizia aurea", "plug", "moist", 20, 16), Lot("Zizia aurea", "seed", "moist", 9, 1)])
    {('Zizia aurea', 'plug'): 0.25}
    """
    whole = observed(Lot(lot.plant, lot.form, "", lot.planted, lot.alive) for lot in lots)
    told = whole[whole["planted"] >= ENOUGH_CASES]
    return {
        (str(plant), str(form)): 1.0 if share <= 0.5 else 1.0 / float(share) - 1.0
        for plant, form, share in zip(told["plant"], told["form"], told["share"], strict=True)
    }


def kind_of_ground(drainage: NDArray[np.float32] | None) -> list[str]:
    """Return the kind of ground of places by natural drainage class (1 to 7), UNKNOWN where it is NaN."""
    if drainage is None:
        return []
    return [
        UNKNOWN if math.isnan(code) else WET if code <= LAST_WET else MOIST if code <= LAST_MOIST else DRY
        for code in drainage.astype(float)
    ]

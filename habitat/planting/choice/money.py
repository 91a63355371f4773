"""One purse for many yards: money goes where the next bit of it is worth most.

How much a yard's program without whole numbers is worth is a concave function of its money. Its value and
slope at a few amounts give straight lines that no plan of the yard can exceed; splitting the purse so that
the slopes are equal is then exact for those lines, and their sum bounds the worth of any split.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from habitat.planting.choice.solver import LinearProgram, maximise_over

LEVELS = 6
"""Amounts of money, from nothing to a yard's own most, at which its worth is looked at."""


@dataclass(frozen=True, slots=True)
class MoneyCurve:
    """Worth that a yard cannot exceed, by money: the least of ``value + slope (money - at)``."""

    yard_id: str
    most: float
    at: NDArray[np.float64]
    value: NDArray[np.float64]
    slope: NDArray[np.float64]

    def bound(self, money: float) -> float:
        """Return the worth that no plan with this money exceeds."""
        return float((self.value + self.slope * (money - self.at)).min())

    def pieces(self) -> list[tuple[float, float]]:
        """Return (slope, length) of the bound from no money to the most, steepest first."""
        cuts = {0.0, self.most}
        for i in range(len(self.at)):
            for j in range(i):
                steeper = self.slope[j] - self.slope[i]
                if abs(steeper) > 1e-12:
                    level = (
                        self.value[i]
                        - self.slope[i] * self.at[i]
                        - self.value[j]
                        + self.slope[j] * self.at[j]
                    )
                    cuts.add(float(np.clip(level / steeper, 0.0, self.most)))
        edges = sorted(cuts)
        return [
            (max(0.0, (self.bound(b) - self.bound(a)) / (b - a)), b - a)
            for a, b in pairwise(edges)
            if b - a > 1e-9
        ]


def money_curve(yard_id: str, most: float, program: LinearProgram, money_row: int) -> MoneyCurve:
    """Return the curve of one yard, up to its own budget.

    Parameters
    ----------
    yard_id, most
        The yard, and its own budget [money].
    program, money_row
        What the yard could be planted with, and the row of it that limits money.
    """
    at = np.linspace(0.0, most, LEVELS) if most > 0 and len(program.worth) else np.zeros(1)
    found = maximise_over(program, money_row, at)
    value = np.array([solved.bound for solved, _ in found])
    slope = np.array([max(0.0, price) for _, price in found])
    return MoneyCurve(yard_id, most, at, value, slope)


@dataclass(frozen=True, slots=True)
class Split:
    """Money by yard, the worth that no split of the purse exceeds, and the slope at which money ran out."""

    money: dict[str, float]
    bound: float
    slope: float


def split_money(curves: list[MoneyCurve], purse: float) -> Split:
    """Split a purse over yards so that the worth of the next bit of money is equal.

    Ties go to the yard that comes first by id.

    Examples
    --------
    >>> one = MoneyCurve("A", 10.0, np.array([0.0]), np.array([0.0]), np.array([2.0]))
    >>> two = MoneyCurve("B", 10.0, np.array([0.0]), np.array([0.0]), np.array([1.0]))
    >>> split_money([two, one], 15.0)
    Split(money={'B': 5.0, 'A': 10.0}, bound=25.0, slope=1.0)
    """
    pieces = [(-slope, c.yard_id, i, length) for c in curves for i, (slope, length) in enumerate(c.pieces())]
    money = {c.yard_id: 0.0 for c in curves}
    bound = sum(c.bound(0.0) for c in curves)
    left, last = purse, 0.0
    for steep, yard_id, _, length in sorted(pieces):
        part = min(length, left)
        if part <= 0.0:
            break
        money[yard_id] += part
        bound -= steep * part
        left -= part
        last = -steep if left <= 0 else 0.0
    return Split(money, float(bound), last)

"""How far a butterfly gets: passage as a function of distance, by median, mean or "5 % get this far"."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from habitat.errors import ParameterError

REACHES = ("low", "median", "high")
"""Names of the range of what is known of a butterfly's reach."""
FAT_TAIL_POWER = 2.0
"""Power of the fat-tailed kernel ``(1 + d / s) ** -2``: judgement; an inverse power function is one of the
usual forms for rare long moves."""

Kernel = Literal["exponential", "fat_tailed"]


@dataclass(frozen=True, slots=True)
class Reach:
    """Passage of one link as a function of its length, and the longest link there is.

    Parameters
    ----------
    median_m
        Distance that half of the movements exceed [m].
    hop_max_m
        Longest direct link [m]; None takes the distance that 5 % exceed (4.32 medians of the exponential
        kernel).
    kernel
        ``exponential``: exp(-k d), k = ln 2 / median. ``fat_tailed``: (1 + d / s) ** -2 with the same median.

    Notes
    -----
    One-dimensional exponential kernel: p(D) = q gives k = -ln(q) / D, so k is 0.693147 / median,
    1 / mean and 2.995732 / (distance that 5 % exceed); taking one for another shifts k by up to 4.3 times.
    On the plane, with density falling as exp(-k r), the mean is 2 / k, the median 1.678347 / k and the
    95th percentile 4.743865 / k.

    Examples
    --------
    >>> reach = Reach(100.0)
    >>> round(float(reach.passage(100.0)), 6), round(reach.longest_m, 1)
    (0.5, 432.2)
    """

    median_m: float
    hop_max_m: float | None = None
    kernel: Kernel = "exponential"

    def __post_init__(self) -> None:
        for name, value in (("median_m", self.median_m), ("hop_max_m", self.hop_max_m)):
            if value is not None and not (math.isfinite(value) and value > 0):
                raise ParameterError(name, value, "a finite distance of more than 0 m")
        if self.kernel not in ("exponential", "fat_tailed"):
            raise ParameterError("kernel", self.kernel, "'exponential' or 'fat_tailed'")

    @property
    def longest_m(self) -> float:
        """Longest direct link [m]."""
        return self.distance_at(0.05) if self.hop_max_m is None else self.hop_max_m

    @property
    def scale_m(self) -> float:
        """Length scale [m]: 1 / k of the exponential kernel, s of the fat-tailed one."""
        if self.kernel == "exponential":
            return self.median_m / math.log(2.0)
        return self.median_m / (2.0 ** (1.0 / FAT_TAIL_POWER) - 1.0)

    def weight(self, distance_m: ArrayLike) -> NDArray[np.float64]:
        """Return ``-ln(passage)`` of links of these lengths [m]."""
        d = np.asarray(distance_m, dtype=np.float64) / self.scale_m
        return d if self.kernel == "exponential" else FAT_TAIL_POWER * np.log1p(d)

    def passage(self, distance_m: ArrayLike) -> NDArray[np.float64]:
        """Return the passage (0-1) of links of these lengths [m]."""
        return np.exp(-self.weight(distance_m))

    def distance_at(self, share: float) -> float:
        """Return the distance that a share (0-1] of the movements exceeds [m]."""
        if not 0.0 < share <= 1.0:
            raise ParameterError("share", share, "more than 0 and at most 1")
        if self.kernel == "exponential":
            return -math.log(share) * self.scale_m
        return self.scale_m * (share ** (-1.0 / FAT_TAIL_POWER) - 1.0)


_ON_A_LINE = {"median": math.log(2.0), "mean": 1.0, "five_percent": -math.log(0.05)}
_ON_THE_PLANE = {"median": 1.678347, "mean": 2.0, "five_percent": 4.743865}


def median_from(distance_m: float, statistic: str, *, plane: bool = False) -> float:
    """Return the median distance of the one-dimensional exponential kernel that a stated distance means [m].

    Parameters
    ----------
    distance_m
        The stated distance [m].
    statistic
        What it is: ``median``, ``mean``, or ``five_percent`` (the distance that 5 % exceed).
    plane
        True if the statistic is of end points on the plane with density exp(-k r); k is carried over.

    Examples
    --------
    >>> round(median_from(100.0, "mean"), 4), round(median_from(299.5732, "five_percent"), 3)
    (69.3147, 69.315)
    """
    table = _ON_THE_PLANE if plane else _ON_A_LINE
    if statistic not in table:
        raise ParameterError("statistic", statistic, "'median', 'mean' or 'five_percent'")
    return math.log(2.0) / (table[statistic] / distance_m)


def reaches_around(
    low_m: float,
    median_m: float,
    high_m: float,
    *,
    own_median_m: float | None = None,
    hop_max_m: float | None = None,
    kernel: Kernel = "exponential",
) -> dict[str, Reach]:
    """Return the reach of a butterfly at the low, the median and the high end of what is known.

    Parameters
    ----------
    low_m, median_m, high_m
        Range of its median distance [m].
    own_median_m
        A better median [m]: low and high then keep their ratio to ``median_m``, or equal the median where the
        range is not known.
    hop_max_m
        Longest direct link at every reach [m]; None takes the distance that 5 % exceed at each.
    kernel
        As for ``Reach``.

    Raises
    ------
    ParameterError
        If a distance is not finite and more than 0.

    Examples
    --------
    >>> [r.median_m for r in reaches_around(50.0, 100.0, 300.0, own_median_m=40.0).values()]
    [20.0, 40.0, 120.0]
    """
    table = [low_m, median_m, high_m]
    if own_median_m is not None:
        table = [own_median_m * (t / median_m if t > 0 and median_m > 0 else 1.0) for t in table]
    return {name: Reach(t, hop_max_m, kernel) for name, t in zip(REACHES, table, strict=True)}

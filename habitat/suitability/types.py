"""What suitability hands on: needs as plain arrays for the compiled pass, and fit as bytes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

NO_LIMIT = 255
"""Code in ``Fit.limiting`` where nothing limits (full score) or nothing was assessed."""


@dataclass(frozen=True, slots=True)
class Needs:
    """The needs of ``plants`` against the ``assessed`` factors.

    ``tables`` holds what the compiled pass needs (made by ``compile_needs``); ``not_assessed`` names the
    needs that the study has no layer for, in the order of ``FACTORS``. ``width`` (plants,) measures how wide
    the ranges are in what was not assessed, for ties: greater is more tolerant. ``by_tests`` are the factors
    that only tests tell: where they are unknown they are not assessed, and no score rests on them.
    """

    plants: tuple[str, ...]
    assessed: tuple[str, ...]
    not_assessed: tuple[str, ...]
    combine: str
    class_limits: tuple[float, float, float]
    width: NDArray[np.float64]
    tables: dict[str, Any]
    by_tests: tuple[str, ...] = ()

    def subset(self, plants: list[str]) -> Needs:
        """Return the needs of some plants only, in the order given.

        Raises
        ------
        KeyError
            If a plant is not among them.
        """
        position = {name: i for i, name in enumerate(self.plants)}
        rows = np.array([position[name] for name in plants], int)
        per_plant = ("params", "worst", "best", "ranges", "stated")
        tables = {k: np.ascontiguousarray(v[rows]) if k in per_plant else v for k, v in self.tables.items()}
        return replace(self, plants=tuple(plants), width=self.width[rows], tables=tables)

    def exactly(self, factors: tuple[str, ...]) -> Needs:
        """Return the needs where some factors were measured: no error of a map lowers a fit by them."""
        known = [f for f, name in enumerate(self.assessed) if name in factors]
        if not known or "doubt" not in self.tables:
            return self
        draws, confidence = self.tables["doubt"]
        shift, classes = draws.shift.copy(), draws.classes.copy()
        shift[:, known] = 0.0
        classes[known] = 0
        doubt = (replace(draws, shift=shift, classes=classes), confidence)
        return replace(self, tables=self.tables | {"doubt": doubt})


@dataclass(frozen=True, slots=True)
class Fit:
    """Fit of each plant in each cell of a window.

    ``low`` and ``high`` are uint8 ``(plants, rows, cols)``: the score x 255, rounded, with unknown factors at
    their worst and at their best; they are equal where everything assessed is known. ``limiting`` is the code
    (place in ``FACTORS.names``) of the need that decides ``low``.
    """

    plants: tuple[str, ...]
    low: NDArray[np.uint8]
    high: NDArray[np.uint8]
    limiting: NDArray[np.uint8]

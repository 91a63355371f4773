"""Fit of plants to cells: all plants over a window as bytes, or one plant unrounded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from habitat.errors import NotFoundError, ParameterError
from habitat.factors import FACTORS
from habitat.suitability import _kernels as kernels
from habitat.suitability.types import NO_LIMIT, Fit, Needs

MODES = {
    "scarcest": kernels.SCARCEST,
    "geometric": kernels.GEOMETRIC,
    "square_root": kernels.SQUARE_ROOT,
}

SMALL = 5_000_000
"""Plants x cells x factors up to which threads would cost more than they save."""


@dataclass(frozen=True, slots=True)
class Scores:
    """Unrounded scores of one plant: ``low`` and ``high`` and the limiting code, (rows, cols)."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    limiting: NDArray[np.uint8]


def fit(needs: Needs, values: dict[str, NDArray[np.float32]], *, shape: tuple[int, int] | None = None) -> Fit:
    """Return the fit of every plant in every cell of a window.

    Parameters
    ----------
    needs
        As ``build_needs`` or ``compile_needs`` return it.
    values
        Factor name -> float32 ``(rows, cols)``, NaN where unknown, as ``SiteWindow.values``. A factor that
        was assessed but is missing here counts as unknown everywhere.
    shape
        ``(rows, cols)``; needed only where no factor is given.

    Returns
    -------
    Fit
        Scores x 255 rounded. ``low`` and ``high`` are one array where everything is known. With nothing
        assessed every score is 255 and nothing limits: say *not assessed*, not *suitable*. Where the study
        asks for confidence, ``low`` is the score reached with at least that chance, given the maps' errors.

    Raises
    ------
    ParameterError
        If the arrays differ in shape.

    Examples
    --------
    A milkweed wants 6 h of direct sun, and with 4 h nothing comes of it:

    >>> from habitat.suitability import build_needs
    >>> needs = build_needs({"milkweed": {"sun_h": (4, 6, np.inf, np.inf)}})
    >>> hours = np.array([[3.0, 5.0, 8.0, np.nan]], np.float32)
    >>> found = fit(needs, {"sun_h": hours})
    >>> found.low.tolist(), found.high.tolist()  # what is unknown may be anything
    ([[[0, 128, 255, 0]]], [[[0, 128, 255, 255]]])
    """
    stack, size = _stack(needs, values, shape)
    plants = len(needs.plants)
    low = np.empty((plants, size[0] * size[1]), np.uint8)
    limiting = np.empty_like(low)
    if not needs.assessed:
        low.fill(255)
        limiting.fill(NO_LIMIT)
        high = low
    else:
        holes = bool(np.isnan(stack.sum()))
        high = np.empty_like(low) if holes else low
        mode, *tables = _tables(needs)
        even = bool(np.isin(needs.tables["weights"], (0.0, 1.0)).all())
        small = low.size * len(stack) < SMALL
        (kernels.fill_small if small else kernels.fill)(
            stack, holes, mode, even, *tables, low, high, limiting
        )
    if "doubt" in needs.tables:
        low = _dependable(needs, stack, low)
    full = (plants, *size)
    first = low.reshape(full)
    return Fit(needs.plants, first, first if high is low else high.reshape(full), limiting.reshape(full))


def _dependable(needs: Needs, stack: NDArray[np.float32], low: NDArray[Any]) -> NDArray[Any]:
    """Return bytes, or unrounded scores, lowered to what holds with the chance that the study asks for."""
    (draws, confidence), tables = needs.tables["doubt"], needs.tables
    count = len(draws.shift)
    rank = min(count - 1, int((1.0 - confidence) * count + 1e-9))
    exact = (*(tables[key] for key in ("params", "worst", "best")), tables["weights"].astype(float))
    bounds = np.array([FACTORS[name].possible for name in needs.assessed])
    lowered = low.astype(float)
    kernels.dependable(
        stack,
        MODES[needs.combine],
        exact,
        tables["codes"],
        draws.shift,
        draws.luck,
        draws.edges,
        draws.classes,
        bounds,
        rank,
        255.0 if low.dtype == np.uint8 else 0.0,
        lowered,
    )
    return lowered.astype(low.dtype)


def score(
    needs: Needs,
    plant: str,
    values: dict[str, NDArray[np.float32]],
    *,
    shape: tuple[int, int] | None = None,
    sure: bool = False,
) -> Scores:
    """Return the unrounded scores of one plant over a window; parameters as ``fit``.

    Parameters
    ----------
    sure
        Whether ``low`` is to hold with the chance that the study asks for, if it asks for one, as in ``fit``.

    Raises
    ------
    NotFoundError
        If the plant is not among the needs.

    Examples
    --------
    >>> from habitat.suitability import build_needs
    >>> needs = build_needs({"milkweed": {"sun_h": (4, 6, np.inf, np.inf)}})
    >>> hours = np.array([[3.0, 5.0, 8.0, np.nan]], np.float32)
    >>> found = score(needs, "milkweed", {"sun_h": hours})
    >>> found.low.tolist(), found.high.tolist()  # what is unknown may be anything
    ([[0.0, 0.5, 1.0, 0.0]], [[0.0, 0.5, 1.0, 1.0]])
    """
    if plant not in needs.plants:
        raise NotFoundError(f"{plant!r} is not among the plants that were assessed", "", "See needs.plants")
    stack, size = _stack(needs, values, shape)
    low, high = np.ones((2, size[0] * size[1]))
    limiting = np.full(low.shape, NO_LIMIT, np.uint8)
    if needs.assessed:
        p = needs.plants.index(plant)
        exact = (needs.tables[key][p] for key in ("params", "worst", "best"))
        weights = needs.tables["weights"].astype(float)
        kernels.unrounded(
            stack, MODES[needs.combine], *exact, needs.tables["codes"], weights, low, high, limiting
        )
    if sure and "doubt" in needs.tables:
        low = _dependable(needs.subset([plant]), stack, low[None, :])[0]
    return Scores(low.reshape(size), high.reshape(size), limiting.reshape(size))


def _tables(needs: Needs) -> tuple[Any, ...]:
    """Return what ``kernels.fill`` needs; needs past the factors, which make up its threes, limit nothing."""
    tables = needs.tables
    params, worst, best = (tables[k].astype(np.float32) for k in ("params", "worst", "best"))
    factors = params.shape[1]
    params = np.pad(params, ((0, 0), (0, max(6 - factors, -factors % 3)), (0, 0)))
    return (MODES[needs.combine], params, worst, best, tables["codes"], tables["weights"])


def _stack(
    needs: Needs, values: dict[str, NDArray[np.float32]], shape: tuple[int, int] | None
) -> tuple[NDArray[np.float32], tuple[int, int]]:
    """Return the assessed factors as (factors, cells) float32 and the window's shape."""
    given = [values[name] for name in needs.assessed if name in values]
    sizes = {v.shape for v in given} | ({shape} if shape is not None else set())
    if len(sizes) != 1 or len(next(iter(sizes))) != 2:
        raise ParameterError("values", sorted(sizes), "arrays (rows, cols) of one shape, or a shape")
    size = next(iter(sizes))
    stack = np.full((len(needs.assessed), size[0] * size[1]), np.nan, np.float32)
    for f, name in enumerate(needs.assessed):
        if name in values:
            stack[f] = np.asarray(values[name], np.float32).ravel()
    return stack, size

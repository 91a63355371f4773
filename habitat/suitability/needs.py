"""Needs: what plants want, from tables or plain numbers, as trapezia on the factors of a place."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.errors import ParameterError, StudyError
from habitat.factors import FACTORS
from habitat.factors.types import number
from habitat.knowledge import Knowledge, resolve_plants
from habitat.knowledge.columns import split_list
from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability.maps import ErrorDraws, MapError, draw_errors
from habitat.suitability.types import Needs

USUAL_DRAWS = 200
"""Draws where the study asks for confidence but not how many: a chance is then known to about 0.03."""

WALL = 1e30
"""Slope of a side without a ramp."""

LEFT_OUT = 2.0
"""Stands for the worst membership of a factor that has no part in the score where it is unknown."""

Ranges = NDArray[np.float64]
"""(..., 4): nothing at or below [0], full from [1] to [2], nothing at or above [3]; infinite if unlimited."""


def build_needs(
    wanted: Mapping[str, Mapping[str, Sequence[float]]],
    settings: SuitabilitySettings | None = None,
    *,
    assessed: Sequence[str] | None = None,
    by_tests: Sequence[str] = (),
) -> Needs:
    """Return needs from plain numbers, without any plant table.

    Parameters
    ----------
    wanted
        Plant -> factor -> (nothing at or below, full from, full to, nothing at or above) in the factor's
        unit, -inf or inf where there is no limit. A factor that is not given limits nothing.
    settings
        How needs combine, weights, class limits; the usual ones if left out.
    assessed
        Names of the factors that are known of the places; those that some plant wants if left out.
    by_tests
        Those of them that are left out of the score where they are unknown.

    Raises
    ------
    ParameterError
        If a factor is none of ``FACTORS``, or four numbers fall from left to right.

    Examples
    --------
    >>> needs = build_needs({"bog plant": {"ph": (3.5, 4.5, 5.5, 6.5), "drainage": (0, 1, 2, 4)}})
    >>> needs.assessed, needs.not_assessed[:2]
    (('ph', 'drainage'), ('sun_h', 'texture'))
    """
    ranges = np.full((len(wanted), len(FACTORS), 4), np.nan)
    for p, by_factor in enumerate(wanted.values()):
        for name, ends in by_factor.items():
            if name not in FACTORS:
                raise ParameterError("wanted", name, f"one of {', '.join(FACTORS)}")
            if len(ends) != 4 or any(math.isnan(v) for v in ends) or sorted(ends) != list(ends):
                raise ParameterError(f"wanted of {name}", tuple(ends), "four numbers that do not fall")
            ranges[p, FACTORS.names.index(name)] = ends
    named = {name for by_factor in wanted.values() for name in by_factor}
    known = tuple(named if assessed is None else assessed)
    return _needs(tuple(wanted), ranges, settings or SuitabilitySettings(), known, tuple(by_tests), None)


def compile_needs(
    knowledge: Knowledge,
    settings: SuitabilitySettings | None = None,
    assessed: Sequence[str] = (),
    by_tests: Sequence[str] = (),
    *,
    errors: Mapping[str, MapError] | None = None,
    seed: int = 7,
    named_in: str = "",
) -> Needs:
    """Return the needs of all plants of the tables against some factors.

    Parameters
    ----------
    knowledge
        The plant tables.
    settings
        How needs combine, with which weights, what differs per plant, and with which chance a fit is to hold;
        the usual ones if left out.
    assessed
        Names of the factors that there is a layer for, as ``Site.assessed``; any order.
    by_tests
        Those of them that no map tells, as ``Site.by_tests``: left out of the score where they are unknown.
    errors
        Factor -> error that its map states; only asked for where ``settings.confidence`` is given.
    seed
        Start of the random numbers that errors are drawn with.
    named_in
        The file that the settings are from, for messages.

    Returns
    -------
    Needs
        Plants in the order of the table, factors in the order of ``FACTORS``. A need whose cells are blank
        in the table limits nothing and is named *not stated*.

    Raises
    ------
    StudyError
        If a weight or override names something unknown, an override breaks a range, or confidence is asked
        for while no map states its error.

    Examples
    --------
    >>> import habitat
    >>> needs = compile_needs(habitat.knowledge.load_knowledge(), assessed=("ph", "sun_h"))
    >>> needs.assessed, needs.not_assessed[:2]
    (('sun_h', 'ph'), ('drainage', 'texture'))
    """
    settings = settings or SuitabilitySettings()
    _known_weights(settings.weights, named_in)
    plants = _overridden(knowledge, settings.plants, named_in)
    doubt = None
    if settings.confidence is not None:
        doubt = _doubt(settings.confidence, settings.draws, errors or {}, tuple(assessed), seed, named_in)
    names = tuple(str(name) for name in plants.index)
    return _needs(names, _all_ranges(plants), settings, tuple(assessed), tuple(by_tests), doubt)


def _needs(
    plants: tuple[str, ...],
    ranges: Ranges,
    settings: SuitabilitySettings,
    assessed: tuple[str, ...],
    by_tests: tuple[str, ...],
    doubt: tuple[ErrorDraws, float] | None,
) -> Needs:
    """Return needs from (plants, all factors, 4) ranges."""
    names = FACTORS.names
    factors = tuple(name for name in names if name in assessed)
    not_assessed = tuple(name for name in names if name not in factors)
    columns = [names.index(name) for name in factors]
    worst = _at_extremes(ranges[:, columns], factors, worst=True)
    worst[:, [name in by_tests for name in factors]] = LEFT_OUT
    return Needs(
        plants=plants,
        assessed=factors,
        not_assessed=not_assessed,
        combine=settings.combine,
        class_limits=settings.class_limits,
        width=_width(ranges, [names.index(name) for name in not_assessed]),
        tables={
            "params": trapezium_params(ranges[:, columns]),
            "worst": worst,
            "best": _at_extremes(ranges[:, columns], factors, worst=False),
            "codes": np.array(columns, np.uint8),
            "weights": np.array([settings.weights.get(name, 1.0) for name in factors], np.float32),
            "ranges": ranges,
            "stated": ~np.isnan(ranges[:, :, 1:3]).any(axis=-1),
            **({} if doubt is None else {"doubt": doubt}),
        },
        by_tests=tuple(name for name in factors if name in by_tests),
    )


def _doubt(
    confidence: float,
    draws: int,
    errors: Mapping[str, MapError],
    assessed: tuple[str, ...],
    seed: int,
    named_in: str,
) -> tuple[ErrorDraws, float]:
    """Return draws of the maps' stated errors, and the chance with which a fit is to hold."""
    factors = tuple(name for name in FACTORS if name in assessed)
    stated = {name: e for name, e in errors.items() if name in factors}
    if not stated:
        raise StudyError(
            f"suitability.confidence is {confidence:g}, but no raster that fit uses states its error",
            named_in,
            "Add error = ... to a raster, such as the standard deviation of ph, or leave confidence out",
        )
    return draw_errors(stated, factors, draws or USUAL_DRAWS, np.random.default_rng(seed)), confidence


def _known_weights(weights: Mapping[str, float], named_in: str) -> None:
    for name in weights:
        if name not in FACTORS:
            what = f"suitability.weights names {name!r}, which is no need"
            raise StudyError(what, named_in, f"Needs: {', '.join(FACTORS)}")


def _overridden(
    knowledge: Knowledge, given: Mapping[str, Mapping[str, float | str]], named_in: str
) -> pd.DataFrame:
    """Return the plant table with a group's own values written over its cells."""
    if not given:
        return knowledge.plants
    plants = knowledge.plants.copy()
    for match, cells in zip(resolve_plants(list(given), knowledge), given.values(), strict=True):
        where = f"suitability.plants.{match.given}"
        if match.accepted is None:
            hint = f"; did you mean {' or '.join(match.suggestions)}?" if match.suggestions else ""
            what = f"{where} is not in the plant tables{hint}"
            raise StudyError(what, named_in, "Mend the name; 'habitat plants' lists all")
        for column, value in cells.items():
            _check_kind(column, value, where, named_in)
            if column not in plants:
                plants[column] = np.nan
            if not isinstance(value, str):
                plants[column] = plants[column].astype(float)
            plants.loc[match.accepted, column] = value
        _check_row({str(k): v for k, v in plants.loc[match.accepted].items()}, where, named_in)
    return plants


def _check_kind(column: str, value: float | str, where: str, named_in: str) -> None:
    """Refuse a column that is no need's, and a number where text is meant or the other way round."""
    by_column = {c: factor.wants for factor in FACTORS.values() for c in factor.wants.columns}
    if column not in by_column:
        what = f"{where} sets {column!r}, which is no need"
        raise StudyError(what, named_in, f"Needs: {', '.join(by_column)}")
    groups = by_column[column].groups
    if (groups is not None) != isinstance(value, str):
        kind = "a number" if groups is None else f"text such as {';'.join(list(groups)[:2])}"
        raise StudyError(f"{where}.{column} is {value!r}", named_in, f"It must be {kind}")


def _check_row(row: Mapping[str, Any], where: str, named_in: str) -> None:
    """Refuse groups of classes that there are none of, and numbers that fall from left to right."""
    for wants in (factor.wants for factor in FACTORS.values()):
        if wants.groups is not None:
            column = wants.columns[0]
            unknown = [g for g in split_list(str(row[column])) if g not in wants.groups]
            if unknown:
                what = f"{where}.{column} names {unknown[0]!r}"
                raise StudyError(what, named_in, f"Groups: {', '.join(wants.groups)}")
            continue
        numbers = [number(row, c) for c in wants.columns]
        if not any(math.isnan(n) for n in numbers) and sorted(numbers) != numbers:
            what = f"{where}: {', '.join(wants.columns)} are {numbers}"
            raise StudyError(what, named_in, "They must not fall from left to right")


def _all_ranges(plants: pd.DataFrame) -> Ranges:
    """Return (plants, needs, 4) ranges; NaN where the table says nothing."""
    rows = [{str(k): v for k, v in row.items()} for row in plants.to_dict("records")]
    out = [[factor.wants.read(row) for factor in FACTORS.values()] for row in rows]
    return np.array(out, float).reshape(len(rows), len(FACTORS), 4)


def trapezium_params(ranges: Ranges) -> NDArray[np.float64]:
    """Return (low, slope below, high, slope above) for the compiled pass from (..., 4) ranges.

    A side that is infinite or not stated has slope 0; a side without a ramp is a wall.
    """
    low, opt_low, opt_high, high = np.moveaxis(ranges, -1, 0)
    unstated = np.isnan(opt_low) | np.isnan(opt_high)
    with np.errstate(divide="ignore", invalid="ignore"):
        up = np.where(np.isfinite(opt_low), 1.0 / (opt_low - low), 0.0)
        down = np.where(np.isfinite(opt_high), 1.0 / (high - opt_high), 0.0)
    up, down = (np.where(unstated, 0.0, np.minimum(side, WALL)) for side in (up, down))
    ends = (np.where(np.isfinite(v), v, 0.0) for v in (opt_low, opt_high))
    first, second = ends
    return np.ascontiguousarray(np.stack([first, up, second, down], axis=-1))


def trapezium(x: NDArray[np.float64], ranges: Ranges) -> NDArray[np.float64]:
    """Return the membership in [0, 1] of values in one range (4,).

    Examples
    --------
    >>> trapezium(np.array([5, 5.5, 6, 7, 7.25, 7.5]), np.array([5, 6, 7, 7.5])).tolist()
    [0.0, 0.5, 1.0, 1.0, 0.5, 0.0]
    """
    low, up, high, down = trapezium_params(ranges)
    return np.clip(np.minimum((x - low) * up + 1.0, (high - x) * down + 1.0), 0.0, 1.0)


def _at_extremes(ranges: Ranges, factors: tuple[str, ...], *, worst: bool) -> NDArray[np.float64]:
    """Return (plants, factors) membership at the worst or best value that a factor can have."""
    out = np.ones(ranges.shape[:2])
    for f, name in enumerate(factors):
        first, last = FACTORS[name].possible
        for p in range(len(ranges)):
            opt = np.clip(ranges[p, f, 1:3], first, last)
            ends = trapezium(np.array([first, last]) if worst else opt, ranges[p, f])
            out[p, f] = 1.0 if np.isnan(opt).any() else (ends.min() if worst else ends.max())
    return out


def _width(ranges: Ranges, columns: list[int]) -> NDArray[np.float64]:
    """Return per plant the mean share of what is usual that its full ranges cover, over some needs."""
    if not columns:
        return np.zeros(len(ranges))
    bounds = np.array([FACTORS[FACTORS.names[c]].usual_range for c in columns])
    low = np.clip(np.nan_to_num(ranges[:, columns, 1], nan=-np.inf), bounds[:, 0], bounds[:, 1])
    high = np.clip(np.nan_to_num(ranges[:, columns, 2], nan=np.inf), bounds[:, 0], bounds[:, 1])
    return np.asarray(((high - low) / (bounds[:, 1] - bounds[:, 0])).mean(axis=1))

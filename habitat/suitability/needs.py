"""Needs: what the tables and the study say a plant wants, as trapezia on the site's factors."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.errors import StudyError
from habitat.factors import FACTORS
from habitat.factors.types import number
from habitat.knowledge import Knowledge, resolve_plants
from habitat.knowledge.columns import split_list
from habitat.study.model import Study
from habitat.suitability.maps import ErrorDraws, draw_errors, map_errors
from habitat.suitability.types import Needs

USUAL_DRAWS = 200
"""Draws where the study asks for confidence but not how many: a chance is then known to about 0.03."""

WALL = 1e30
"""Slope of a side without a ramp."""

LEFT_OUT = 2.0
"""Stands for the worst membership of a factor that has no part in the score where it is unknown."""

Ranges = NDArray[np.float64]
"""(..., 4): nothing at or below [0], full from [1] to [2], nothing at or above [3]; infinite if unlimited."""


def compile_needs(
    knowledge: Knowledge, study: Study, assessed: tuple[str, ...], by_tests: tuple[str, ...] = ()
) -> Needs:
    """Return the needs of all plants against the factors that a study has layers for.

    Parameters
    ----------
    knowledge
        The plant tables.
    study
        Its ``[suitability]`` says how needs combine, with which weights, and what differs per plant.
    assessed
        Names of the factors that there is a layer for, as ``Site.assessed``; any order.
    by_tests
        Those of them that no map tells, as ``Site.by_tests``: left out of the score where they are unknown.

    Returns
    -------
    Needs
        Plants in the order of the table, factors in the order of ``FACTORS``. A need whose cells are blank
        in the table limits nothing and is named *not stated*.

    Raises
    ------
    StudyError
        If a weight or override names something unknown, an override breaks a range, or the study asks for
        confidence while no raster states its error.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> from habitat.study.model import Study
    >>> study = Study(layers={"yards": {"path": "yards.gpkg"}})
    >>> needs = compile_needs(load_knowledge(KnowledgeSettings()), study, assessed=("ph", "sun_h"))
    >>> needs.assessed, needs.not_assessed[:2]
    (('sun_h', 'ph'), ('drainage', 'texture'))
    """
    settings = study.suitability
    _known_weights(settings.weights, study)
    plants = _overridden(knowledge, study)
    ranges = _all_ranges(plants)
    names = FACTORS.names
    factors = tuple(name for name in FACTORS if name in assessed)
    columns = [names.index(name) for name in factors]
    stated = ~np.isnan(ranges[:, :, 1:3]).any(axis=-1)
    weights = np.array([settings.weights.get(name, 1.0) for name in factors], np.float32)
    not_assessed = tuple(name for name in FACTORS if name not in factors)
    doubt = {} if settings.confidence is None else {"doubt": _doubt(study, factors)}
    worst = _at_extremes(ranges[:, columns], factors, worst=True)
    worst[:, [name in by_tests for name in factors]] = LEFT_OUT
    return Needs(
        plants=tuple(plants.index),
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
            "weights": weights,
            "ranges": ranges,
            "stated": stated,
            **doubt,
        },
        by_tests=tuple(name for name in factors if name in by_tests),
    )


def _doubt(study: Study, factors: tuple[str, ...]) -> tuple[ErrorDraws, float]:
    """Return draws of the maps' stated errors, and the chance with which a fit is to hold."""
    errors = {name: e for name, e in map_errors(study).items() if name in factors}
    confidence = study.suitability.confidence or 0.0
    if not errors:
        raise StudyError(
            f"suitability.confidence is {confidence:g}, but no raster that fit uses states its error",
            str(study.path),
            "Add error = ... to a raster, such as the standard deviation of ph, or leave confidence out",
        )
    draws = study.suitability.draws or USUAL_DRAWS
    return draw_errors(errors, factors, draws, np.random.default_rng(study.study.seed)), confidence


def _known_weights(weights: dict[str, float], study: Study) -> None:
    for name in weights:
        if name not in FACTORS:
            raise StudyError(
                f"suitability.weights names {name!r}, which is no need",
                str(study.path),
                f"Needs: {', '.join(FACTORS)}",
            )


def _overridden(knowledge: Knowledge, study: Study) -> pd.DataFrame:
    """Return the plant table with the study's overrides written over its cells."""
    given = study.suitability.plants
    if not given:
        return knowledge.plants
    plants = knowledge.plants.copy()
    by_column = {column: factor for factor in FACTORS.values() for column in factor.wants.columns}
    for match, cells in zip(resolve_plants(list(given), knowledge), given.values(), strict=True):
        where = f"suitability.plants.{match.given}"
        if match.accepted is None:
            hint = f"; did you mean {' or '.join(match.suggestions)}?" if match.suggestions else ""
            what = f"{where} is not in the plant tables{hint}"
            raise StudyError(what, str(study.path), "Mend the name; 'habitat plants' lists all")
        for column, value in cells.items():
            factor = by_column.get(column)
            if factor is None:
                raise StudyError(
                    f"{where} sets {column!r}, which is no need",
                    str(study.path),
                    f"Needs: {', '.join(by_column)}",
                )
            if (factor.wants.groups is not None) != isinstance(value, str):
                kind = "a number" if factor.wants.groups is None else "text such as coarse;medium"
                raise StudyError(f"{where}.{column} is {value!r}", str(study.path), f"It must be {kind}")
            if column not in plants:
                plants[column] = np.nan
            if not isinstance(value, str):
                plants[column] = plants[column].astype(float)
            plants.loc[match.accepted, column] = value
        _ordered({str(k): v for k, v in plants.loc[match.accepted].items()}, where, study)
    return plants


def _ordered(row: Mapping[str, Any], where: str, study: Study) -> None:
    for wants in (factor.wants for factor in FACTORS.values()):
        if wants.groups is not None:
            unknown = [g for g in split_list(str(row[wants.columns[0]])) if g not in wants.groups]
            if unknown:
                raise StudyError(
                    f"{where}.{wants.columns[0]} names {unknown[0]!r}",
                    str(study.path),
                    f"Groups: {', '.join(wants.groups)}",
                )
            continue
        numbers = [number(row, c) for c in wants.columns]
        if not any(math.isnan(n) for n in numbers) and sorted(numbers) != numbers:
            raise StudyError(
                f"{where}: {', '.join(wants.columns)} are {numbers}",
                str(study.path),
                "They must not fall from left to right",
            )


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

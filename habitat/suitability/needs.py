"""Needs: what the tables and the study say a plant wants, as trapezia on the site's factors."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.errors import StudyError
from habitat.knowledge import Knowledge, resolve_plants
from habitat.study.model import Study
from habitat.suitability.maps import ErrorDraws, draw_errors, map_errors
from habitat.suitability.types import NEEDS, Needs

NO_UPPER_SUN_H = 15.0
"""``sun_max_h`` of 15 h is the longest day: no upper limit, so the falling side goes."""

SHALLOW_SHARE = 0.5
"""Fit falls to 0 at this share of the least soil depth for good growth: judgement."""

USUAL_DRAWS = 200
"""Draws where the study asks for confidence but not how many: a chance is then known to about 0.03."""

WALL = 1e30
"""Slope of a side without a ramp."""

TEXTURE_CLASSES = {"coarse": (1, 2), "medium": (3, 7), "fine": (8, 12)}
"""First and last USDA class number of each texture group (grouping from memory; see practice tables)."""

FEASIBLE = {
    "sun_h": (0.0, 15.0),
    "ph": (3.0, 10.0),
    "drainage": (1.0, 7.0),
    "texture": (1.0, 12.0),
    "depth_cm": (0.0, 300.0),
    "available_water_mm": (0.0, 400.0),
    "zone": (1.0, 13.0),
    "salt": (0.0, 30.0),
    "sun_afternoon_h": (0.0, 8.0),
}
"""What a factor can be anywhere: an unknown cell is scored at the worst and at the best of it."""

LEFT_OUT = 2.0
"""Stands for the worst membership of a factor that has no part in the score where it is unknown."""

Ranges = NDArray[np.float64]
"""(..., 4): nothing at or below [0], full from [1] to [2], nothing at or above [3]; infinite if unlimited."""


def _number(row: pd.Series[Any], column: str) -> float:
    value = row.get(column)
    return math.nan if value is None or value == "" or pd.isna(value) else float(value)


def _continuous(stem: str) -> Callable[[pd.Series[Any]], tuple[float, ...]]:
    return lambda row: tuple(_number(row, f"{stem}_{part}") for part in ("min", "opt_low", "opt_high", "max"))


def _sun(row: pd.Series[Any]) -> tuple[float, ...]:
    low, opt_low, opt_high, high = (
        _number(row, f"sun_{part}_h") for part in ("min", "opt_low", "opt_high", "max")
    )
    lower = (-math.inf, -math.inf) if opt_low <= 0 else (low, opt_low)
    return (*lower, *((math.inf, math.inf) if high >= NO_UPPER_SUN_H else (opt_high, high)))


def _ranks(row: pd.Series[Any]) -> tuple[float, ...]:
    """Ordered classes: the outermost classes named are the last tolerated, so zero lies one rank beyond."""
    low, opt_low, opt_high, high = _continuous("drainage")(row)
    return (low - 1.0, opt_low, opt_high, high + 1.0)


def _texture(row: pd.Series[Any]) -> tuple[float, ...]:
    groups = [g.strip() for g in str(row.get("texture_ok") or "").split(";") if g.strip()]
    if not groups:
        return (math.nan,) * 4
    first = min(TEXTURE_CLASSES[g][0] for g in groups)
    last = max(TEXTURE_CLASSES[g][1] for g in groups)
    return (first - 1.0, float(first), float(last), last + 1.0)


def _depth(row: pd.Series[Any]) -> tuple[float, ...]:
    need = _number(row, "rooting_depth_min_cm")
    return (SHALLOW_SHARE * need, need, math.inf, math.inf)


def _water(row: pd.Series[Any]) -> tuple[float, ...]:
    return (
        _number(row, "available_water_min_mm"),
        _number(row, "available_water_opt_mm"),
        math.inf,
        math.inf,
    )


def _zone(row: pd.Series[Any]) -> tuple[float, ...]:
    low, high = _number(row, "zone_min"), _number(row, "zone_max")
    return (low - 1.0, low, high, high + 1.0)


def _salt(row: pd.Series[Any]) -> tuple[float, ...]:
    return (-math.inf, -math.inf, _number(row, "salt_full_ds_m"), _number(row, "salt_max_ds_m"))


def _afternoon(row: pd.Series[Any]) -> tuple[float, ...]:
    full = _number(row, "sun_afternoon_full_h")
    return (-math.inf, -math.inf, full, _number(row, "sun_afternoon_max_h"))


@dataclass(frozen=True, slots=True)
class NeedKind:
    """How a need is read from the plant table, and how people say it."""

    columns: tuple[str, ...]
    ranges: Callable[[pd.Series[Any]], tuple[float, ...]]
    words: str
    unit: str


NEED_KINDS: dict[str, NeedKind] = {
    "sun_h": NeedKind(
        ("sun_min_h", "sun_opt_low_h", "sun_opt_high_h", "sun_max_h"), _sun, "direct sun", "h per clear day"
    ),
    "ph": NeedKind(
        ("ph_min", "ph_opt_low", "ph_opt_high", "ph_max"), _continuous("ph"), "soil reaction", "pH"
    ),
    "drainage": NeedKind(
        ("drainage_min", "drainage_opt_low", "drainage_opt_high", "drainage_max"), _ranks, "drainage", "rank"
    ),
    "texture": NeedKind(("texture_ok",), _texture, "soil texture", "class"),
    "depth_cm": NeedKind(("rooting_depth_min_cm",), _depth, "rooting depth", "cm"),
    "available_water_mm": NeedKind(
        ("available_water_min_mm", "available_water_opt_mm"), _water, "available water", "mm"
    ),
    "zone": NeedKind(("zone_min", "zone_max"), _zone, "hardiness zone", "zone"),
    "salt": NeedKind(("salt_full_ds_m", "salt_max_ds_m"), _salt, "salt", "dS/m"),
    "sun_afternoon_h": NeedKind(
        ("sun_afternoon_full_h", "sun_afternoon_max_h"), _afternoon, "afternoon sun", "h after noon"
    ),
}
"""Every need, in the order of NEEDS."""

NEED_COLUMNS = tuple(column for kind in NEED_KINDS.values() for column in kind.columns)


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
        Plants in the order of the table, factors in the order of NEEDS. A need whose cells are blank in the
        table limits nothing and is named *not stated*.

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
    factors = tuple(name for name in NEEDS if name in assessed)
    columns = [NEEDS.index(name) for name in factors]
    stated = ~np.isnan(ranges[:, :, 1:3]).any(axis=-1)
    weights = np.array([settings.weights.get(name, 1.0) for name in factors], np.float32)
    not_assessed = tuple(name for name in NEEDS if name not in factors)
    doubt = {} if settings.confidence is None else {"doubt": _doubt(study, factors)}
    worst = _at_extremes(ranges[:, columns], factors, worst=True)
    worst[:, [name in by_tests for name in factors]] = LEFT_OUT
    return Needs(
        plants=tuple(plants.index),
        assessed=factors,
        not_assessed=not_assessed,
        combine=settings.combine,
        class_limits=settings.class_limits,
        width=_width(ranges, [NEEDS.index(name) for name in not_assessed]),
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
        if name not in NEEDS:
            raise StudyError(
                f"suitability.weights names {name!r}, which is no need",
                str(study.path),
                f"Needs: {', '.join(NEEDS)}",
            )


def _overridden(knowledge: Knowledge, study: Study) -> pd.DataFrame:
    """Return the plant table with the study's overrides written over its cells."""
    given = study.suitability.plants
    if not given:
        return knowledge.plants
    plants = knowledge.plants.copy()
    for match, cells in zip(resolve_plants(list(given), knowledge), given.values(), strict=True):
        where = f"suitability.plants.{match.given}"
        if match.accepted is None:
            hint = f"; did you mean {' or '.join(match.suggestions)}?" if match.suggestions else ""
            what = f"{where} is not in the plant tables{hint}"
            raise StudyError(what, str(study.path), "Mend the name; 'habitat plants' lists all")
        for column, value in cells.items():
            if column not in NEED_COLUMNS:
                raise StudyError(
                    f"{where} sets {column!r}, which is no need",
                    str(study.path),
                    f"Needs: {', '.join(NEED_COLUMNS)}",
                )
            if (column == "texture_ok") != isinstance(value, str):
                kind = "text such as coarse;medium" if column == "texture_ok" else "a number"
                raise StudyError(f"{where}.{column} is {value!r}", str(study.path), f"It must be {kind}")
            if column not in plants:
                plants[column] = np.nan
            if not isinstance(value, str):
                plants[column] = plants[column].astype(float)
            plants.loc[match.accepted, column] = value
        _ordered(plants.loc[[match.accepted]].iloc[0], where, study)
    return plants


def _ordered(row: pd.Series[Any], where: str, study: Study) -> None:
    unknown = [g for g in str(row["texture_ok"]).split(";") if g.strip() not in TEXTURE_CLASSES]
    if unknown:
        raise StudyError(
            f"{where}.texture_ok names {unknown[0]!r}", str(study.path), "Groups: coarse, medium, fine"
        )
    for kind in NEED_KINDS.values():
        numbers = [_number(row, c) for c in kind.columns if c != "texture_ok"]
        if kind.columns[0] == "texture_ok" or any(math.isnan(n) for n in numbers):
            continue
        if sorted(numbers) != numbers:
            raise StudyError(
                f"{where}: {', '.join(kind.columns)} are {numbers}",
                str(study.path),
                "They must not fall from left to right",
            )


def _all_ranges(plants: pd.DataFrame) -> Ranges:
    """Return (plants, needs, 4) ranges; NaN where the table says nothing."""
    out = np.full((len(plants), len(NEEDS), 4), np.nan)
    for i, (_, row) in enumerate(plants.iterrows()):
        for j, name in enumerate(NEEDS):
            out[i, j] = NEED_KINDS[name].ranges(row)
    return out


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
        first, last = FEASIBLE[name]
        for p in range(len(ranges)):
            opt = np.clip(ranges[p, f, 1:3], first, last)
            ends = trapezium(np.array([first, last]) if worst else opt, ranges[p, f])
            out[p, f] = 1.0 if np.isnan(opt).any() else (ends.min() if worst else ends.max())
    return out


def _width(ranges: Ranges, columns: list[int]) -> NDArray[np.float64]:
    """Return per plant the mean share of what is possible that its full ranges cover, over some needs."""
    if not columns:
        return np.zeros(len(ranges))
    bounds = np.array([FEASIBLE[NEEDS[c]] for c in columns])
    low = np.clip(np.nan_to_num(ranges[:, columns, 1], nan=-np.inf), bounds[:, 0], bounds[:, 1])
    high = np.clip(np.nan_to_num(ranges[:, columns, 2], nan=np.inf), bounds[:, 0], bounds[:, 1])
    return np.asarray(((high - low) / (bounds[:, 1] - bounds[:, 0])).mean(axis=1))

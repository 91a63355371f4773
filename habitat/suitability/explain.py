"""Why a plant suits a place or not: need by need, what would have to change, and what would do instead."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.factors import FACTORS
from habitat.knowledge import Knowledge
from habitat.knowledge.year import bloom_months
from habitat.suitability.classes import CLASSES, class_number, class_words, classify, classify_between
from habitat.suitability.fit import Scores, fit, score
from habitat.suitability.needs import trapezium
from habitat.suitability.types import NO_LIMIT, Needs

NOT_ASSESSED = "not assessed: the study has no layer for anything that this plant needs"


@dataclass(frozen=True, slots=True)
class NeedScore:
    """One need at one place.

    ``state`` is "assessed", "unknown" (a hole in the layer), "not assessed" (no layer) or "not stated" (the
    plant table says nothing). ``wanted`` is (min, opt_low, opt_high, max), infinite where unlimited;
    ``score`` in [0, 1], NaN unless assessed. ``here`` and ``wants`` say value and range in words;
    ``change`` what would have to change.
    """

    need: str
    words: str
    unit: str
    state: str
    value: float
    wanted: tuple[float, float, float, float]
    score: float
    here: str
    wants: str
    limiting: bool
    change: str


@dataclass(frozen=True, slots=True)
class PlaceFit:
    """A plant at a place: score with unknown needs at their worst and best, class, needs in fixed order."""

    plant: str
    low: float
    high: float
    class_name: str
    words: str
    needs: tuple[NeedScore, ...]

    @property
    def assessed(self) -> bool:
        """Whether anything that the plant needs is assessed, known here or not."""
        return any(need.state in ("assessed", "unknown") for need in self.needs)

    def table(self) -> pd.DataFrame:
        """Return the needs as a table: need, here, wanted, score, state, limiting, change."""
        rows = [(n.words, n.here, n.wants, n.score, n.state, n.limiting, n.change) for n in self.needs]
        columns = ["need", "here", "wanted", "score", "state", "limiting", "change"]
        return pd.DataFrame(rows, columns=columns)


def explain(needs: Needs, plant: str, values: dict[str, float]) -> PlaceFit:
    """Return why a plant suits a place or not.

    Parameters
    ----------
    needs
        As ``build_needs`` or ``compile_needs`` return it.
    plant
        Accepted name.
    values
        Factor -> value at the place; NaN or missing where unknown.

    Raises
    ------
    NotFoundError
        If the plant is not among the needs.

    Examples
    --------
    >>> from habitat.suitability import build_needs
    >>> needs = build_needs({"milkweed": {"sun_h": (4, 6, math.inf, math.inf)}})
    >>> explain(needs, "milkweed", {"sun_h": 3.0}).words
    'not suitable, limited by sun (N)'
    """
    cell = {k: np.array([[v]], np.float32) for k, v in values.items() if k in needs.assessed}
    found = score(needs, plant, cell, shape=(1, 1))
    low, high, code = float(found.low[0, 0]), float(found.high[0, 0]), int(found.limiting[0, 0])
    rows = tuple(_need(needs, plant, name, values.get(name, math.nan), code) for name in FACTORS)
    limiting = next((row for row in rows if row.limiting), None)
    if not any(row.state in ("assessed", "unknown") for row in rows):
        return PlaceFit(plant, low, high, "", NOT_ASSESSED, rows)
    name = classify_between(low, high, needs.class_limits)
    return PlaceFit(plant, low, high, name, _words(name, low, high, needs, limiting), rows)


def _words(name: str, low: float, high: float, needs: Needs, limiting: NeedScore | None) -> str:
    if name:
        return class_words(name, limiting.words if limiting else "")
    ends = [classify(v, needs.class_limits) for v in (low, high)]
    unknown = f": {limiting.words} is unknown" if limiting and limiting.state == "unknown" else ""
    return f"between {class_words(ends[0])} and {class_words(ends[1])}{unknown}"


def _need(needs: Needs, plant: str, name: str, value: float, code: int) -> NeedScore:
    p, column = needs.plants.index(plant), FACTORS.names.index(name)
    wanted = needs.tables["ranges"][p, column]
    factor = FACTORS[name]
    if not needs.tables["stated"][p, column]:
        state = "not stated"
    elif name not in needs.assessed:
        state = "not assessed"
    else:
        blank = "not assessed" if name in needs.by_tests else "unknown"
        state = blank if math.isnan(value) else "assessed"
    known = state == "assessed"
    points = float(trapezium(np.array([value]), wanted)[0]) if known else math.nan
    return NeedScore(
        need=name,
        words=factor.words,
        unit=factor.said_unit,
        state=state,
        value=value,
        wanted=(float(wanted[0]), float(wanted[1]), float(wanted[2]), float(wanted[3])),
        score=points,
        here=value_words(name, value) if known else state,
        wants=wanted_words(name, wanted) if state != "not stated" else "not stated in the plant table",
        limiting=code != NO_LIMIT and FACTORS.names[code] == name,
        change=change_words(name, value, wanted) if known and points < 1.0 else "",
    )


def value_words(name: str, value: float) -> str:
    """Return a value in words: classes by name, numbers with unit.

    Examples
    --------
    >>> value_words("drainage", 5), value_words("ph", 6.25), value_words("texture", 4)
    ('well drained', 'pH 6.2', 'loam')
    """
    return FACTORS[name].value_words(value)


def wanted_words(name: str, wanted: NDArray[np.float64]) -> str:
    """Return a range in words: what it lives with, and where it is best."""
    factor = FACTORS[name]
    low, opt_low, opt_high, high = (float(v) for v in wanted)
    if factor.in_steps:
        first, last = factor.possible
        low, high = max(low + 1.0, first), min(high - 1.0, last)
        opt_low, opt_high = max(opt_low, first), min(opt_high, last)
    best, lives = _span(name, opt_low, opt_high), _span(name, low, high)
    words = best if best == lives else f"best {best}, lives with {lives}"
    return factor.range_shown.format(range=words, unit=factor.said_unit)


def _span(name: str, first: float, last: float) -> str:
    words = [_end_words(name, v) for v in (first, last)]
    if words == ["", ""]:
        return "any"
    if words[0] == words[1]:
        return words[0]
    if not all(words):
        return f"{words[0]} or more" if words[0] else f"up to {words[1]}"
    return f"{words[0]} to {words[1]}"


def _end_words(name: str, value: float) -> str:
    if not math.isfinite(value):
        return ""
    return FACTORS[name].class_name(value) or f"{value:g}"


def change_words(name: str, value: float, wanted: NDArray[np.float64]) -> str:
    """Return what would have to change for a need to be fully met: common practice."""
    gap = float(value - wanted[1] if value < wanted[1] else value - wanted[2])
    return FACTORS[name].change_words(gap)


def best_place(low: NDArray[np.float64], open_cells: NDArray[np.bool_]) -> tuple[int, int] | None:
    """Return row and column of the best cell of the open ground, the first of equals; None without any."""
    if not open_cells.any():
        return None
    row, col = np.unravel_index(int(np.argmax(np.where(open_cells, low, -1.0))), low.shape)
    return int(row), int(col)


def class_areas(
    found: Scores, open_cells: NDArray[np.bool_], cell_m: float, limits: tuple[float, float, float]
) -> dict[str, float]:
    """Return the open ground [m2] in each class; under "" what is undecided, since something is unknown."""
    low, high = (class_number(v[open_cells], limits) for v in (found.low, found.high))
    decided = np.where(low == high, low, 0)
    return {name: float((decided == k).sum() * cell_m**2) for k, name in (*enumerate(CLASSES, 1), (0, ""))}


def room_words(plant: pd.Series[Any], open_m2: float, crown_m2: float) -> str:
    """Return what room a plant lacks, in words, or "" if it has room.

    Parameters
    ----------
    plant
        A row of the plant table.
    open_m2
        Open ground for its growth form [m2].
    crown_m2
        The part of it where the grown crown would stay clear of walls and inside the yard [m2].
    """
    spread_m = float(plant["spread_m"])
    disc_m2 = math.pi / 4.0 * spread_m**2
    if plant["form"] in ("forb", "graminoid"):
        small = open_m2 < disc_m2
        return f"it takes {disc_m2:.1f} m2 when grown, and {open_m2:.1f} m2 are open to it" if small else ""
    if crown_m2 > 0:
        return ""
    return (
        f"its crown is {spread_m:g} m wide when grown, and nowhere on the {open_m2:.0f} m2 that are open "
        "to it would it stay inside the yard and clear of walls"
    )


def alternatives(
    knowledge: Knowledge,
    needs: Needs,
    plant: str,
    values: dict[str, NDArray[np.float32]],
    open_cells: Callable[[str], NDArray[np.bool_]],
    *,
    count: int | None = 5,
) -> pd.DataFrame:
    """Return the plants that do the same for butterflies and fit best here, best first.

    They feed at least one butterfly that the plant feeds; where it feeds none, they give nectar in at least
    one of its months.

    Parameters
    ----------
    values
        Factor -> (rows, cols), as ``SiteWindow.values``.
    open_cells
        Name of a plant -> (rows, cols) where it has room; a plant that has none is left out.
    count
        How many; None for all.

    Returns
    -------
    DataFrame
        plant, common_name, fit (best cell, worst case, 0-1), shared (how many of the plant's butterflies or
        months), butterflies (text). Ties by shared, then name.
    """
    shared = _shared(knowledge, plant)
    names = [p for p in needs.plants if p != plant and shared.get(p, 0)]
    columns = ["plant", "common_name", "fit", "shared", "butterflies"]
    if not names:
        return pd.DataFrame(columns=columns)
    masks = [open_cells(name) for name in names]
    low = fit(needs.subset(names), values, shape=masks[0].shape).low
    best = [low[k][mask].max(initial=0) / 255.0 for k, mask in enumerate(masks)]
    order = sorted(range(len(names)), key=lambda k: (-best[k], -shared[names[k]], names[k]))
    rows = [
        (
            names[k],
            knowledge.plants.loc[[names[k]]].iloc[0]["common_name"],
            round(float(best[k]), 2),
            shared[names[k]],
            "; ".join(knowledge.eaters_of(names[k])["butterfly"]),
        )
        for k in order[:count]
        if best[k] > 0
    ]
    return pd.DataFrame(rows, columns=columns)


def _shared(knowledge: Knowledge, plant: str) -> dict[str, int]:
    """Return plant -> how many butterflies it shares with this one, or months of nectar."""
    rows = knowledge.eaters_of(plant)
    primary = set(rows.loc[rows["use"] == "primary", "butterfly"])
    eaters = primary or set(rows["butterfly"])  # what eats nearly all shares something with everything
    if eaters:
        rows = knowledge.host_plants[knowledge.host_plants["butterfly"].isin(eaters)]
        return {str(p): len(g) for p, g in rows.groupby("plant")}
    months = set(bloom_months(knowledge.plants.loc[[plant]].iloc[0]))
    bloomers = knowledge.plants[knowledge.plants["nectar_value"] > 0]
    return {str(p): len(months & set(bloom_months(row))) for p, row in bloomers.iterrows()}

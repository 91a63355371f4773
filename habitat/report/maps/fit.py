"""Suitability of one plant: land-evaluation classes in words, and what holds it back."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np
from matplotlib.patches import Patch
from numpy.typing import NDArray

from habitat.factors import FACTORS
from habitat.report.maps.base import UNKNOWN_HATCH, draw_base, draw_raster, town_bounds
from habitat.report.maps.classes import Classes, draw_classes
from habitat.report.maps.style import Sheet
from habitat.report.plan import Plan
from habitat.report.words.text import file_names, listed, plain
from habitat.study.fitting import needs_of
from habitat.suitability.classes import CLASSES, WORDS, class_number
from habitat.suitability.fit import score
from habitat.suitability.types import Needs

MOST_PLANTS = 4
ROWS = 256
"""Rows of the grid that are scored at once, so that memory stays small."""

CLASS_LOOK = Classes(tuple(f"{WORDS[c]} ({c})" for c in reversed(CLASSES)), colours="cividis", numbers=True)


def plants_to_map(plan: Plan) -> list[str]:
    """Return the plants whose fit is mapped: those the study asks rasters for, else the commonest hosts."""
    known = plan.knowledge.plants.index
    asked = [p for p in plan.study.suitability.rasters if p in known]
    if asked:
        return asked
    hosts = plan.plantings[plan.plantings["purpose"].str.contains("host")] if len(plan.plantings) else None
    if hosts is None or hosts.empty:
        return []
    total = hosts.groupby("plant")["count"].sum().sort_index().sort_values(ascending=False, kind="stable")
    return [str(p) for p in total.index[:MOST_PLANTS] if p in known]


def fit_drawings(plan: Plan) -> list[partial[list[Path]]]:
    """Return a drawing for each plant, each a function of plan and folder."""
    plants = plants_to_map(plan)
    names = file_names([_stem(p) for p in plants], "fit-")
    return [partial(_draw_fit, plant=p, name=names[_stem(p)]) for p in plants]


def _stem(plant: str) -> str:
    """Return what the raster of the same plant is called by."""
    return plant.lower().replace(" ", "-")


def _draw_fit(plan: Plan, folder: Path, *, plant: str, name: str) -> list[Path]:
    row = plan.knowledge.plants.loc[[plant]].iloc[0]
    common = plain(row["common_name"], 50)
    sheet = Sheet(
        plan,
        f"Where {common} can live",
        f"{plant}: how well sun and soil fit, by what is assessed",
        town_bounds(plan),
    )
    site = plan.site
    needs = needs_of(plan.study, plan.knowledge, site.assessed, site.by_tests).subset([plant])
    shown, undecided, limiting = scores(plan, needs)
    ax = sheet.main_map()
    draw_raster(ax, plan.site.grid, np.where(np.isnan(shown), np.nan, 0.0), alpha=0.0)
    entries = draw_classes(ax, plan.site.grid, shown, CLASS_LOOK, shown=range(4))
    entries = [e for e in entries if e[1] != "unknown"]
    if np.isnan(shown).any():
        words = "undecided: something that matters is unknown here"
        words = words if undecided.any() else "nothing was assessed here: no soil test"
        entries.append((Patch(fc="#f3f1e9", ec="#a9a598", hatch=UNKNOWN_HATCH, lw=0.5), words))
    ground = draw_base(ax, plan, faint=True, anchors=False)
    y = sheet.legend([(f"Fit of {common}", entries), ("The ground", ground)])
    sheet.notes([_limits(limiting), _not_assessed(needs), _how_sure(plan)], y - 0.1)
    sheet.caption(f"needs of the plant tables; cells of {plan.site.grid.cell_m:g} m")
    return sheet.save(folder, name)


def scores(plan: Plan, needs: Needs) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.uint8]]:
    """Return per cell the class (1 worst to 4 best), whether undecided, and what limits.

    The class is NaN where undecided, and where only soil tests tell anything and nobody tested.
    """
    grid, site = plan.site.grid, plan.site
    number = np.full(grid.shape, np.nan)
    undecided = np.zeros(grid.shape, bool)
    limiting = np.zeros(grid.shape, np.uint8)
    for top in range(0, grid.shape[0], ROWS):
        part = slice(top, min(top + ROWS, grid.shape[0]))
        values = {name: np.asarray(site.rasters[name][part], np.float32) for name in site.assessed}
        shape = (part.stop - part.start, grid.shape[1])
        found = score(needs, needs.plants[0], values, shape=shape)
        low, high = (class_number(v, needs.class_limits) for v in (found.low, found.high))
        undecided[part] = low != high
        if "doubt" in needs.tables:
            sure = score(needs, needs.plants[0], values, shape=shape, sure=True)
            low = class_number(sure.low, needs.class_limits)
        blank = undecided[part].copy()
        if set(needs.assessed) <= set(needs.by_tests):
            blank |= np.all([np.isnan(v) for v in values.values()], axis=0)
        number[part] = np.where(blank, np.nan, 5.0 - low)
        limiting[part] = found.limiting
    return number, undecided, limiting


def _limits(limiting: NDArray[np.uint8]) -> str:
    """Return what limits most of the ground, in words with shares."""
    names = FACTORS.names
    codes, counts = np.unique(limiting[limiting < len(names)], return_counts=True)
    if not len(codes):
        return "Nothing that was assessed holds it back."
    order = np.argsort(-counts, kind="stable")[:3]
    parts = [
        f"{FACTORS[names[codes[k]]].heading} ({counts[k] / limiting.size:.0%} of the map)" for k in order
    ]
    return f"What holds it back most: {listed(parts)}."


def _how_sure(plan: Plan) -> str:
    confidence = plan.study.suitability.confidence
    return (
        f"Each class holds with a chance of at least {confidence:.0%}, by the errors that the maps state."
        if confidence is not None
        else ""
    )


def _not_assessed(needs: Needs) -> str:
    """Say what no layer tells, and what only soil tests tell in their own yards."""
    never, tested = ([FACTORS[n].heading for n in names] for names in (needs.not_assessed, needs.by_tests))
    parts = [listed(never)] if never else []
    if tested:
        parts.append(f"{listed(tested)} in yards without a soil test")
    return f"Not assessed: {'; '.join(parts)}." if parts else ""

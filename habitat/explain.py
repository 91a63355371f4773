"""Why a plant can or cannot go into a yard, and what would do instead: the answer of ``habitat why``."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from rasterio.features import geometry_mask
from shapely.geometry.base import BaseGeometry

from habitat.knowledge import Knowledge, load_knowledge, outside_region
from habitat.knowledge.lookup import accepted_plant
from habitat.layers import read_layers
from habitat.layers.people import find_yard
from habitat.report.plan import Progress
from habitat.site import survey
from habitat.site.types import GROWTH_FORM, Site, SiteWindow
from habitat.study import Study, read_study
from habitat.suitability import Needs, compile_needs, map_errors, not_carried, score, yard_chance
from habitat.suitability.classes import CLASSES, WORDS
from habitat.suitability.explain import PlaceFit, alternatives, best_place, class_areas, explain, room_words

CHANCE_DRAWS = 1000
"""Draws of the maps' errors where the study does not say how many: a chance is then known to 0.02."""


@dataclass(frozen=True, slots=True)
class _Place:
    """A yard and its cells: the window, which are open to the plant's growth form, what closes the rest."""

    yard: BaseGeometry
    window: SiteWindow
    open_cells: NDArray[np.bool_]
    closed: pd.DataFrame


def explain_plant(path: Path, yard_id: str, plant: str, progress: Progress | None = None) -> dict[str, Any]:
    """Return why a plant can or cannot go into a yard.

    Returns
    -------
    dict
        ``plant, common_name, yard_id, class, sentence, best_fit, best_at`` (x, y), ``where`` (best place and
        open ground by class in words), ``areas_m2`` (open ground by class), ``needs`` (a row per need: need,
        here, wanted, score, state, limiting, change), ``not_assessed, closed`` (area by reason), ``advice,
        alternatives``, ``instead`` (what these have in common with the plant). Fit and areas
        are missing where nothing that the plant needs is assessed. Fit is the worst case where
        something is unknown, at the best place of the open ground. ``chance`` that the class of the open
        ground as a whole holds, None where no raster states an error, and ``sure``: that in words.

    Raises
    ------
    NotFoundError
        If the yard or the plant is not there.
    """
    study = read_study(path)
    layers = read_layers(study, progress)
    yard_id = find_yard(layers.yards, yard_id)
    knowledge = load_knowledge(study.knowledge, study.folder)
    name = accepted_plant(knowledge, plant)
    site = survey(layers, progress)
    needs = compile_needs(knowledge, study, site.assessed, site.by_tests)
    place = _place(site, yard_id, GROWTH_FORM[str(knowledge.plants.loc[name, "form"])])
    answer = _answer(name, yard_id, place, needs, knowledge) | _how_sure(name, place, needs, study)
    answer["sure"] = [*outside_region(knowledge, layers.yards), *answer["sure"]]
    return answer


def _how_sure(name: str, place: _Place, needs: Needs, study: Study) -> dict[str, Any]:
    """Return the chance that the class of the yard's open ground holds, given the errors that maps state."""
    errors = {factor: e for factor, e in map_errors(study).items() if factor in needs.assessed}
    told = list(not_carried(study))
    if not errors or not place.open_cells.any():
        return {"chance": None, "sure": told}
    found = yard_chance(
        needs.subset([name]),
        place.window.values,
        place.open_cells,
        errors,
        rng=np.random.default_rng(study.study.seed),
        draws=study.suitability.draws or CHANCE_DRAWS,
    )
    chance, grade = float(found.chance[0, 0]), CLASSES[int(found.stated[0, 0]) - 1]
    words = (
        f"How sure? By the maps, the open ground as a whole is {WORDS[grade]} ({grade}). With the errors "
        f"that the maps state, it is that or better with a chance of {chance:.0%} ({found.draws} draws)."
    )
    return {"chance": chance, "sure": [words, *told]}


def _place(site: Site, yard_id: str, growth: str) -> _Place:
    yard = site.yards.loc[site.yards["yard_id"] == yard_id, "geometry"].iloc[0]
    window = site.window(yard.bounds)
    rows = site.open_ground
    ground = rows[(rows["yard_id"] == yard_id) & (rows["growth_form"] == growth)].geometry
    shapes = [s for s in (ground if site.placeable else [yard]) if s is not None and not s.is_empty]
    shape, transform = window.grid.shape, window.grid.transform
    cells = geometry_mask(shapes, shape, transform, invert=True) if shapes else np.zeros(shape, bool)
    closed = site.closed_ground
    closed = closed[(closed["yard_id"] == yard_id) & closed["growth_form"].isin(["all", growth])]
    return _Place(yard, window, cells, closed)


def _answer(name: str, yard_id: str, place: _Place, needs: Needs, knowledge: Knowledge) -> dict[str, Any]:
    low = score(needs, name, place.window.values, shape=place.window.grid.shape).low.astype(float)
    best = best_place(low, place.open_cells)
    areas = class_areas(low, place.open_cells, place.window.grid.cell_m, needs.class_limits)
    common = str(knowledge.plants.loc[name, "common_name"])
    answer: dict[str, Any] = {
        "plant": name,
        "common_name": common,
        "yard_id": yard_id,
        "class": "",
        "sentence": f"{common.capitalize()} ({name}) in yard {yard_id}: no ground is open to it.",
        "best_fit": None,
        "best_at": None,
        "where": "",
        "areas_m2": areas,
        "needs": [],
        "not_assessed": [],
        "closed": _closed_rows(place),
        "advice": [],
        "alternatives": [],
        "instead": _instead(name, knowledge),
    }
    if best is None:
        return answer
    fit_there = explain(needs, name, {k: float(v[best]) for k, v in place.window.values.items()})
    grid = place.window.grid
    others = alternatives(knowledge, needs, name, place.window.values, place.open_cells)
    answer |= {
        "needs": fit_there.table().to_dict(orient="records"),
        "not_assessed": [n.words for n in fit_there.needs if n.state == "not assessed"],
        "advice": _advice(fit_there, knowledge, place),
        "alternatives": others.to_dict(orient="records"),
    }
    if not fit_there.assessed:
        open_m2 = place.open_cells.sum() * grid.cell_m**2
        told = f"{fit_there.words}. Nothing is claimed of the {open_m2:.0f} m2 that are open to it."
        return answer | {
            "sentence": f"{common.capitalize()} ({name}) in yard {yard_id}: {told}",
            "areas_m2": {},
            "alternatives": others.assign(fit=None).to_dict(orient="records"),
        }
    return answer | {
        "class": fit_there.class_name,
        "sentence": f"{common.capitalize()} ({name}) in yard {yard_id}: {_sentence(fit_there, areas)}",
        "best_fit": fit_there.low,
        "best_at": [round(float(grid.x[best[1]]), 1), round(float(grid.y[best[0]]), 1)],
        "where": _where(best, low, place, areas),
    }


def _sentence(place_fit: PlaceFit, areas: dict[str, float]) -> str:
    good = areas["S1"] + areas["S2"]
    return (
        f"{place_fit.words} at its best place (fit {place_fit.low:.2f}); "
        f"about {good:.0f} m2 of open ground suit it moderately or better."
    )


def _where(best: tuple[int, int], low: NDArray[np.float64], place: _Place, areas: dict[str, float]) -> str:
    """Return in words where the plant fits best, and how much open ground is in each class."""
    grid, cells = place.window.grid, place.open_cells & (low >= low[best] - 1e-9)
    x, y = float(grid.x[best[1]]), float(grid.y[best[0]])
    middle = place.yard.centroid
    away = math.hypot(x - middle.x, y - middle.y)
    points = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    toward = points[round(math.degrees(math.atan2(x - middle.x, y - middle.y)) / 45) % 8]
    spot = "in the yard's middle" if away < 2 else f"about {away:.0f} m {toward} of the yard's middle"
    by_class = ", ".join(f"{m2:.0f} m2 {WORDS[grade]}" for grade, m2 in areas.items() if m2 >= 0.5)
    return (
        f"It fits best {spot}, and as well on {cells.sum() * grid.cell_m**2:.0f} m2 in all. "
        f"Open ground: {by_class}."
    )


def _instead(name: str, knowledge: Knowledge) -> str:
    """Return what the alternatives have in common with a plant, as a heading."""
    if len(knowledge.eaters_of(name)):
        return "What else feeds the same butterflies, best fit here first"
    return "What else has nectar in the same months, best fit here first"


def _advice(place_fit: PlaceFit, knowledge: Knowledge, place: _Place) -> list[str]:
    open_m2 = float(place.open_cells.sum()) * place.window.grid.cell_m**2
    lines = [
        f"{need.words.capitalize()}: {need.change[0].lower()}{need.change[1:]}"
        for need in place_fit.needs
        if need.change
    ]
    room = room_words(knowledge.plants.loc[[place_fit.plant]].iloc[0], open_m2)
    missing = ", ".join(n.words for n in place_fit.needs if n.state == "not assessed")
    unknown = ", ".join(n.words for n in place_fit.needs if n.state == "unknown")
    if unknown:
        lines.append(f"Unknown here: {unknown}. Measuring it in this yard would settle the fit.")
    if room:
        lines.append(f"Room: {room}.")
    if missing:
        lines.append(f"Not assessed, for want of a layer: {missing}.")
    return lines


def _closed_rows(place: _Place) -> list[dict[str, Any]]:
    if place.closed.empty:
        return []
    area = place.closed.geometry.area.groupby(place.closed["reason"]).sum().sort_values(ascending=False)
    return [
        {"reason": reason, "area_m2": round(float(value), 1)}
        for reason, value in area.items()
        if value >= 0.05
    ]

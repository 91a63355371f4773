"""Why a plant can or cannot go into a yard, and what would do instead: the answer of ``habitat why``."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from habitat.commands.why.place import YardPlace, ground_limits, yard_place
from habitat.commands.why.rules import kept_out, kept_out_words, to_mind
from habitat.factors import FACTORS
from habitat.knowledge import Knowledge
from habitat.knowledge.lookup import accepted_plant
from habitat.knowledge.place import knowledge_of_place, outside_region
from habitat.layers.join.people import find_yard
from habitat.pipeline.reading import read_layers
from habitat.pipeline.season import in_season
from habitat.pipeline.survey import survey
from habitat.progress import Progress
from habitat.report.words.text import listed
from habitat.site.types import GROWTH_FORM
from habitat.study.fitting import errors_not_carried, errors_of, needs_of
from habitat.study.model import Study
from habitat.study.reading import read_study
from habitat.suitability import Needs
from habitat.suitability.classes import CLASSES, WORDS, classify_between
from habitat.suitability.confidence import yard_chance
from habitat.suitability.explain import PlaceFit, alternatives, best_place, class_areas, explain, room_words
from habitat.suitability.fit import Scores, score

ALTERNATIVES = 5

COMBINED = {
    "scarcest": "the score of the need that is met worst",
    "geometric": "the geometric mean of the needs' scores, 0 where one is 0",
    "square_root": "the worst score times the square root of the product of the others",
}
"""What the fit of a place is made of, by ``suitability.combine``."""

CHANCE_DRAWS = 1000
"""Draws of the maps' errors where the study does not say how many: a chance is then known to 0.02."""


def explain_plant(path: Path, yard_id: str, plant: str, progress: Progress | None = None) -> dict[str, Any]:
    """Return why a plant can or cannot go into a yard.

    Returns
    -------
    dict
        ``plant, common_name, yard_id, class, sentence, kept_out`` (why the plan keeps it out of this yard
        whatever its fit, "" if it does not), ``best_fit, best_at`` (x, y), ``where`` (best place and
        open ground by class in words), ``areas_m2`` (open ground by class, "" undecided), ``needs`` (a row
        per need: need, here, wanted, score, state, limiting, change), ``not_assessed, closed`` (area by
        reason), ``advice, alternatives`` (of any growth form that has room; those that the plan keeps out
        last, with the reason), ``instead`` (what these have in common with the plant). Fit and areas
        are missing where nothing that the plant needs is assessed. Fit is the worst case where
        something is unknown, at the best place of the open ground. ``chance`` that the class of the open
        ground as a whole holds, None where no raster states an error, and ``sure``: that in words.
        ``reading``: what fit and class mean. ``units``: of the study's report; figures here are metric.

    Raises
    ------
    NotFoundError
        If the yard or the plant is not there.
    """
    study = read_study(path)
    layers = read_layers(study, progress)
    yard_id = find_yard(layers.yards, yard_id)
    knowledge = knowledge_of_place(
        study.knowledge, layers.yards, study.folder, states=study.study.states, refuse=False
    )
    study, _ = in_season(study, knowledge)
    name = accepted_plant(knowledge, plant)
    site = survey(study, layers, progress)
    needs = needs_of(study, knowledge, site.assessed, site.by_tests)
    place = yard_place(site, layers, yard_id)
    rules = kept_out(study, knowledge, needs, place.yard)
    answer = _answer(name, place, needs, knowledge, rules) | _how_sure(name, place, needs, study, knowledge)
    answer["sure"] = [*outside_region(knowledge, layers.yards), *knowledge.set_aside, *answer["sure"]]
    return answer | {"reading": reading_words(needs), "units": study.report.units}


def reading_words(needs: Needs) -> str:
    """Return how to read fit and class."""
    s1, s2, s3 = needs.class_limits
    return (
        "How to read it: a need scores 1 in its best range and falls to 0 at the ends of what the plant "
        f"lives with. Fit, from 0 to 1, is {COMBINED[needs.combine]}. Highly suitable (S1) is a fit of "
        f"{s1:g} or more, moderately (S2) {s2:g}, marginally (S3) {s3:g}; below it is not suitable (N)."
    )


def _how_sure(
    name: str, place: YardPlace, needs: Needs, study: Study, knowledge: Knowledge
) -> dict[str, Any]:
    """Return the chance that the class of the yard's open ground holds, given the errors that maps state."""
    stated = {factor: e for factor, e in errors_of(study).items() if factor in needs.assessed}
    errors = {factor: e for factor, e in stated.items() if factor not in place.tested}
    told = list(errors_not_carried(study))
    if len(errors) < len(stated):
        measured = ", ".join(FACTORS[factor].words for factor in stated if factor in place.tested)
        told.append(f"Measured in this yard, so that no error of a map counts: {measured}.")
    cells = place.cells(_growth(name, knowledge))
    if not errors or not cells.any():
        return {"chance": None, "sure": told}
    whole = "the open ground as a whole" if place.placeable else "the yard as a whole"
    found = score(needs, name, place.window.values, shape=place.window.grid.shape)
    if not classify_between(found.low[cells].mean(), found.high[cells].mean(), needs.class_limits):
        words = f"How sure? The class of {whole} is undecided, since something that matters is unknown there."
        return {"chance": None, "sure": [words, *told]}
    sure = yard_chance(
        needs.subset([name]),
        place.window.values,
        cells,
        errors,
        rng=np.random.default_rng(study.study.seed),
        draws=study.suitability.draws or CHANCE_DRAWS,
    )
    chance, grade = float(sure.chance[0, 0]), CLASSES[int(sure.stated[0, 0]) - 1]
    that = "that or better" if grade != "N" else "better"  # nothing is worse than not suitable
    share = chance if grade != "N" else float(sure.better[0, 0])
    words = (
        f"How sure? By the maps, {whole} is {WORDS[grade]} ({grade}). With the errors "
        f"that the maps state, it is {that} with a chance of {share:.0%} ({sure.draws} draws)."
    )
    return {"chance": chance, "sure": [words, *told]}


def _growth(name: str, knowledge: Knowledge) -> str:
    return GROWTH_FORM[str(knowledge.plants.loc[name, "form"])]


def _answer(
    name: str, place: YardPlace, needs: Needs, knowledge: Knowledge, rules: dict[str, str]
) -> dict[str, Any]:
    cells, grid = place.cells(_growth(name, knowledge)), place.window.grid
    found = score(needs, name, place.window.values, shape=grid.shape)
    areas = class_areas(found, cells, grid.cell_m, needs.class_limits)
    answer = _nowhere(name, place, needs, knowledge, rules) | {"areas_m2": areas}
    best = best_place(found.low, cells)
    if best is None:
        return answer
    fit_there = explain(needs, name, {k: float(v[best]) for k, v in place.window.values.items()})
    start = answer["sentence"].removesuffix(": no ground is open to it.")
    answer |= {
        "needs": fit_there.table().to_dict(orient="records"),
        "not_assessed": [n.words for n in fit_there.needs if n.state == "not assessed"],
        "advice": [*_advice(fit_there, needs, knowledge, place), *answer["advice"]],
    }
    if not fit_there.assessed:
        m2 = cells.sum() * grid.cell_m**2
        where = f"{m2:.0f} m2 that are open to it" if place.placeable else f"yard's {m2:.0f} m2"
        told = f"{fit_there.words}. Nothing is claimed of the {where}."
        others = [row | {"fit": None} for row in answer["alternatives"]]
        return answer | {"sentence": f"{start}: {told}", "areas_m2": {}, "alternatives": others}
    return answer | {
        "class": fit_there.class_name,
        "sentence": f"{start}: {_sentence(fit_there, areas, place)}",
        "best_fit": fit_there.low,
        "best_at": [round(float(grid.x[best[1]]), 1), round(float(grid.y[best[0]]), 1)],
        "where": _where(best, found, cells, place, areas),
    }


def _nowhere(
    name: str, place: YardPlace, needs: Needs, knowledge: Knowledge, rules: dict[str, str]
) -> dict[str, Any]:
    """Return what can be said of a plant that no ground is open to."""
    common = str(knowledge.plants.loc[name, "common_name"])
    yard_id, address = str(place.yard["yard_id"]), place.yard.get("address")
    lived = f" ({address})" if isinstance(address, str) and address else ""
    return {
        "plant": name,
        "common_name": common,
        "yard_id": yard_id,
        "class": "",
        "sentence": f"{common.capitalize()} ({name}) in yard {yard_id}{lived}: no ground is open to it.",
        "kept_out": kept_out_words(name, rules[name], knowledge, place.yard),
        "best_fit": None,
        "best_at": None,
        "where": "",
        "needs": [],
        "not_assessed": [],
        "closed": _closed_rows(place, _growth(name, knowledge)),
        "advice": [*ground_limits(name, place, knowledge), *to_mind(name, knowledge, place.yard)],
        "alternatives": _alternatives(name, place, needs, knowledge, rules),
        "instead": _instead(name, knowledge),
    }


def _alternatives(
    name: str, place: YardPlace, needs: Needs, knowledge: Knowledge, rules: dict[str, str]
) -> list[dict[str, Any]]:
    """Return the best alternatives, those that the plan keeps out of this yard after the others."""
    rows = knowledge.plants
    found = alternatives(
        knowledge,
        needs,
        name,
        place.window.values,
        lambda p: place.room_cells(rows.loc[[p]].iloc[0]),
        count=None,
    )
    found = found.assign(kept_out=[rules[p] for p in found["plant"]])
    found = found.sort_values("kept_out", key=lambda column: column != "", kind="stable")
    return [{str(k): v for k, v in row.items()} for row in found.head(ALTERNATIVES).to_dict(orient="records")]


def _sentence(place_fit: PlaceFit, areas: dict[str, float], place: YardPlace) -> str:
    good = areas["S1"] + areas["S2"]
    where = "open ground suit" if place.placeable else "the yard, built ground with it, suit"
    known = [n.words for n in place_fit.needs if n.state in ("assessed", "unknown")]
    by = f", by {listed(known)} alone," if any(n.state == "not assessed" for n in place_fit.needs) else ""
    return (
        f"{place_fit.words}{by} at its best place (fit {place_fit.low:.2f} of 1); "
        f"about {good:.0f} m2 of {where} it moderately or better."
    )


def _where(
    best: tuple[int, int],
    found: Scores,
    open_cells: NDArray[np.bool_],
    place: YardPlace,
    areas: dict[str, float],
) -> str:
    """Return in words where the plant fits best, and how much open ground is in each class."""
    grid, cells = place.window.grid, open_cells & (found.low >= found.low[best] - 1e-9)
    x, y = float(grid.x[best[1]]), float(grid.y[best[0]])
    middle = place.yard["geometry"].centroid
    away = math.hypot(x - middle.x, y - middle.y)
    points = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    toward = points[round(math.degrees(math.atan2(x - middle.x, y - middle.y)) / 45) % 8]
    spot = "in the yard's middle" if away < 2 else f"about {away:.0f} m {toward} of the yard's middle"
    words = WORDS | {"": "undecided, since something that matters is unknown there"}
    by_class = ", ".join(f"{m2:.0f} m2 {words[grade]}" for grade, m2 in areas.items() if m2 >= 0.5)
    all_of = (
        "Open ground" if place.placeable else "The whole yard, since no buildings layer tells what is open"
    )
    return (
        f"It fits best {spot}, and as well on {cells.sum() * grid.cell_m**2:.0f} m2 in all. "
        f"{all_of}: {by_class}."
    )


def _instead(name: str, knowledge: Knowledge) -> str:
    """Return what the alternatives have in common with a plant, as a heading."""
    if len(knowledge.eaters_of(name)):
        return "What else feeds the same butterflies, best fit here first"
    return "What else has nectar in the same months, best fit here first"


def _advice(place_fit: PlaceFit, needs: Needs, knowledge: Knowledge, place: YardPlace) -> list[str]:
    plant = knowledge.plants.loc[[place_fit.plant]].iloc[0]
    lines = [
        f"{need.words.capitalize()}: {need.change[0].lower()}{need.change[1:]}"
        for need in place_fit.needs
        if need.change
    ]
    blank = [n for n in place_fit.needs if n.state == "not assessed"]
    missing = ", ".join(n.words for n in blank if n.need not in needs.by_tests)
    untested = ", ".join(n.words for n in blank if n.need in needs.by_tests)
    unknown = ", ".join(n.words for n in place_fit.needs if n.state == "unknown")
    if unknown:
        lines.append(f"Unknown here: {unknown}. Measuring it in this yard would settle the fit.")
    room = room_words(plant, place.ground[GROWTH_FORM[str(plant["form"])]].area, place.room(plant).area)
    if room:
        lines.append(f"Room: {room}.")
    if untested:
        lines.append(f"Not assessed, for want of a soil test in this yard: {untested}.")
    if missing:
        lines.append(f"Not assessed, for want of a layer: {missing}.")
    return lines


def _closed_rows(place: YardPlace, growth: str) -> list[dict[str, Any]]:
    closed = place.closed[place.closed["growth_form"].isin(["all", growth])]
    if closed.empty:
        return []
    area = closed.geometry.area.groupby(closed["reason"]).sum().sort_values(ascending=False)
    return [
        {"reason": reason, "area_m2": round(float(value), 1)}
        for reason, value in area.items()
        if value >= 0.05
    ]

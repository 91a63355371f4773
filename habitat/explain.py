"""Why a plant can or cannot go into a yard, and what would do instead."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from rasterio.features import geometry_mask

from habitat.errors import NotFoundError
from habitat.knowledge import Knowledge, load_knowledge, resolve_plants
from habitat.layers import read_layers
from habitat.report.plan import Progress
from habitat.site import survey
from habitat.site.texture import CLASSES
from habitat.site.types import GROWTH_FORM, Site, SiteWindow
from habitat.site.words import drainage_word
from habitat.study import read_study
from habitat.suitability import NEEDS, NO_LIMIT, Needs, class_words, classify, compile_needs, fit, score
from habitat.suitability.needs import NEED_KINDS, trapezium

ALTERNATIVES = 5
CHANGES = {
    "sun_h": "Only pruning what shades it would bring sun: a licensed arborist's work, never near wires.",
    "sun_afternoon_h": "A place on the east side of a wall or tree gets morning sun and afternoon shade.",
    "ph": "Lime or sulphur moves pH by little, and not for long; beyond about one unit choose another plant.",
    "drainage": "A raised bed drains faster; a dish in the ground holds water longer. Both change little.",
    "texture": "Texture cannot be changed over a yard; a raised bed with other soil holds a few plants.",
    "depth_cm": "A raised bed adds depth.",
    "available_water_mm": "Compost and mulch hold more water; watering helps while somebody does it.",
    "zone": "Winter cold cannot be changed.",
    "salt": "Keep road salt away, or plant farther from the road.",
}
"""What a gardener can do about each need: common practice."""


@dataclass(frozen=True, slots=True)
class _Place:
    """A yard's cells: the window, which cells are the yard's, which are open to the plant's growth form."""

    window: SiteWindow
    inside: NDArray[np.bool_]
    open_cells: NDArray[np.bool_]
    closed: pd.DataFrame


def explain_plant(path: Path, yard_id: str, plant: str, progress: Progress | None = None) -> dict[str, Any]:
    """Return why a plant can or cannot go into a yard.

    Returns
    -------
    dict
        ``plant, common_name, yard_id, class, sentence, best_fit, best_at, good_m2, needs`` (a row per need:
        need, here, wanted, score), ``not_assessed, closed`` (area by reason), ``advice, alternatives``.
        Fit is the worst case where something is unknown, taken where it is best within the open ground.

    Raises
    ------
    NotFoundError
        If the yard or the plant is not there.
    """
    study = read_study(path)
    layers = read_layers(study, progress)
    if yard_id not in set(layers.yards["yard_id"]):
        raise NotFoundError(
            f"there is no yard {yard_id!r}", "", "See 'habitat check' for the yards that were read"
        )
    knowledge = load_knowledge(study.knowledge, study.folder)
    name = _accepted(plant, knowledge)
    site = survey(layers, progress)
    needs = compile_needs(knowledge, study, site.assessed)
    place = _place(site, yard_id, str(knowledge.plants.loc[name, "form"]))
    return _answer(name, yard_id, place, needs, knowledge)


def _accepted(plant: str, knowledge: Knowledge) -> str:
    match = resolve_plants([plant], knowledge)[0]
    if match.accepted is None:
        hint = (
            f"Did you mean {' or '.join(match.suggestions)}" if match.suggestions else "See 'habitat plants'"
        )
        raise NotFoundError(f"{plant!r} is not in the plant tables", "", hint)
    return match.accepted


def _place(site: Site, yard_id: str, form: str) -> _Place:
    growth = GROWTH_FORM[form]
    yard = site.yards.loc[site.yards["yard_id"] == yard_id, "geometry"].iloc[0]
    window = site.window(yard.bounds)
    rows = site.open_ground
    ground = rows[(rows["yard_id"] == yard_id) & (rows["growth_form"] == growth)].geometry
    shape, transform = window.grid.shape, window.grid.transform

    def cells(shapes: list[Any]) -> NDArray[np.bool_]:
        some = [s for s in shapes if s is not None and not s.is_empty]
        return geometry_mask(some, shape, transform, invert=True) if some else np.zeros(shape, bool)

    closed = site.closed_ground
    closed = closed[(closed["yard_id"] == yard_id) & closed["growth_form"].isin(["all", growth])]
    inside = cells([yard])
    return _Place(window, inside, cells(list(ground)) if site.placeable else inside, closed)


def _answer(name: str, yard_id: str, place: _Place, needs: Needs, knowledge: Knowledge) -> dict[str, Any]:
    ground = place.open_cells if place.open_cells.any() else place.inside
    scores = score(needs, name, place.window.values, shape=place.window.grid.shape)
    low = np.where(ground, scores.low, -1.0)
    best = np.unravel_index(int(np.argmax(low)), low.shape)
    best_fit = float(low[best]) if ground.any() else math.nan
    limits = needs.class_limits
    limiting = int(scores.limiting[best])
    need = "" if limiting == NO_LIMIT or best_fit >= 1 else NEEDS[limiting]
    cell_m2 = place.window.grid.cell_m**2
    good_m2 = float((low >= limits[1]).sum() * cell_m2)
    return {
        "plant": name,
        "common_name": str(knowledge.plants.loc[name, "common_name"]),
        "yard_id": yard_id,
        "class": classify(best_fit, limits),
        "best_fit": best_fit,
        "best_at": [
            round(float(place.window.grid.x[best[1]]), 1),
            round(float(place.window.grid.y[best[0]]), 1),
        ],
        "good_m2": good_m2,
        "sentence": _sentence(name, yard_id, knowledge, best_fit, need, good_m2, limits, place),
        "needs": _need_rows(name, needs, place.window, best),
        "not_assessed": [NEED_KINDS[n].words for n in needs.not_assessed],
        "closed": _closed_rows(place),
        "advice": _advice(need, needs),
        "alternatives": _alternatives(name, needs, place, ground, knowledge),
    }


def _sentence(
    name: str,
    yard_id: str,
    knowledge: Knowledge,
    best_fit: float,
    need: str,
    good_m2: float,
    limits: tuple[float, float, float],
    place: _Place,
) -> str:
    common = knowledge.plants.loc[name, "common_name"]
    head = f"{str(common).capitalize()} ({name}) in yard {yard_id}: "
    if not place.open_cells.any():
        return head + "no ground is open to it; see what closes it below."
    limit_words = f", limited by {NEED_KINDS[need].words}" if need else ""
    return (
        f"{head}{class_words(classify(best_fit, limits))} at its best place "
        f"(fit {best_fit:.2f}{limit_words}); "
        f"about {good_m2:.0f} m2 of open ground suit it moderately or better."
    )


def _need_rows(name: str, needs: Needs, window: SiteWindow, best: tuple[Any, ...]) -> list[dict[str, Any]]:
    """Return a row per assessed need at the best place, each with its own score (unknown stays unknown)."""
    ranges = needs.tables["ranges"][needs.plants.index(name)]
    rows = []
    for factor in needs.assessed:
        value, wanted = float(window.values[factor][best]), ranges[NEEDS.index(factor)]
        stated = not np.isnan(wanted[1:3]).any()
        rows.append(
            {
                "need": NEED_KINDS[factor].words,
                "here": _in_words(factor, value),
                "wanted": _wanted(factor, wanted) if stated else "not stated in the plant table",
                "score": float(trapezium(np.array([value]), wanted)[0]) if stated else math.nan,
            }
        )
    return rows


def _in_words(factor: str, value: float) -> str:
    if math.isnan(value):
        return "unknown"
    if factor == "drainage":
        return drainage_word(value)
    if factor == "texture":
        return CLASSES[round(value) - 1]
    return f"{value:.3g} {NEED_KINDS[factor].unit}"


def _wanted(factor: str, ranges: NDArray[np.float64]) -> str:
    """Return a range in words; the outer limits of classes are the last tolerated ones."""
    if factor in ("drainage", "texture"):
        last = 7 if factor == "drainage" else len(CLASSES)
        first, final = (int(np.clip(r, 1, last)) for r in (ranges[0] + 1, ranges[3] - 1))
        return _span(_in_words(factor, first), _in_words(factor, final))
    unit = NEED_KINDS[factor].unit
    low, opt_low, opt_high, high = (f"{v:g}" if math.isfinite(v) else "" for v in ranges)
    return f"best {_span(opt_low, opt_high)}, lives at {_span(low, high)} {unit}"


def _span(first: str, last: str) -> str:
    if first == last:
        return first or "any"
    if not first or not last:
        return f"{first} or more" if first else f"up to {last}"
    return f"{first} to {last}"


def _closed_rows(place: _Place) -> list[dict[str, Any]]:
    if place.closed.empty:
        return []
    area = place.closed.geometry.area.groupby(place.closed["reason"]).sum().sort_values(ascending=False)
    return [
        {"reason": reason, "area_m2": round(float(value), 1)}
        for reason, value in area.items()
        if value >= 0.05
    ]


def _advice(need: str, needs: Needs) -> list[str]:
    lines = [CHANGES[need]] if need else []
    if needs.not_assessed:
        words = ", ".join(NEED_KINDS[n].words for n in needs.not_assessed)
        lines.append(f"Not assessed, for want of a layer: {words}.")
    return lines


def _alternatives(
    name: str, needs: Needs, place: _Place, ground: NDArray[np.bool_], knowledge: Knowledge
) -> list[dict[str, Any]]:
    """Return the plants that feed the same butterflies and fit best here, best first."""
    eaters = set(knowledge.eaters_of(name)["butterfly"])
    others = knowledge.host_plants[knowledge.host_plants["butterfly"].isin(eaters)]
    plants = [p for p in needs.plants if p != name and p in set(others["plant"])]
    if not plants or not ground.any():
        return []
    low = fit(needs.subset(plants), place.window.values, shape=place.window.grid.shape).low
    best = low[:, ground].max(axis=1) / 255
    order = sorted(range(len(plants)), key=lambda k: (-best[k], plants[k]))[:ALTERNATIVES]
    return [
        {
            "plant": plants[k],
            "common_name": str(knowledge.plants.loc[plants[k], "common_name"]),
            "fit": round(float(best[k]), 2),
            "for": "; ".join(
                str(knowledge.butterflies.loc[b, "common_name"])
                for b in sorted(set(others.loc[others["plant"] == plants[k], "butterfly"]))
            ),
        }
        for k in order
        if best[k] > 0
    ]

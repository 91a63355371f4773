"""All maps and figures of a plan, as PNG (and SVG if the study asks for it)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from habitat.report.map_closed import draw_closed
from habitat.report.map_corridor import corridor_drawings
from habitat.report.map_fit import fit_drawings
from habitat.report.map_invite import draw_invitations
from habitat.report.map_soil import draw_soil, soil_factors
from habitat.report.map_spot import can_look_up, draw_spot
from habitat.report.map_style import style
from habitat.report.map_sun import draw_sun, draw_sun_by_month
from habitat.report.map_town import draw_town
from habitat.report.map_year import butterflies_of_plan, draw_year
from habitat.report.plan import Plan, Progress

Drawing = Callable[[Plan, Path], list[Path]]


def write_maps(plan: Plan, folder: Path, progress: Progress | None = None) -> list[Path]:
    """Write every map that the plan has something to show on; return the files in order.

    Parameters
    ----------
    plan
        Already reduced for its audience. Neither addresses nor names of people are written on any map.
    folder
        Where they go; it is made if it is not there.
    progress
        Called with (words, done, total).
    """
    folder.mkdir(parents=True, exist_ok=True)
    todo = drawings(plan)
    out: list[Path] = []
    with style():
        for done, draw in enumerate(todo):
            if progress is not None:
                progress("Drawing maps", done, len(todo))
            out += draw(plan, folder)
    if progress is not None:
        progress("Drawing maps", len(todo), len(todo))
    return out


def drawings(plan: Plan) -> list[Drawing]:
    """Return the maps to draw, each a function of plan and folder; what was not assessed has no map."""
    todo: list[Drawing] = [draw_town]
    if "sun_h" in plan.site.rasters:
        todo.append(draw_sun)
    if plan.site.sun_by_month:
        todo.append(draw_sun_by_month)
    if soil_factors(plan):
        todo.append(draw_soil)
    if len(plan.site.closed_ground):
        todo.append(draw_closed)
    if plan.site.assessed:
        todo += fit_drawings(plan)
    todo += corridor_drawings(plan)
    if len(plan.invitations):
        todo.append(draw_invitations)
    if butterflies_of_plan(plan):
        todo.append(draw_year)
    if can_look_up(plan):
        todo.append(draw_spot)
    return todo

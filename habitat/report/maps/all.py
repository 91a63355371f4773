"""All maps and figures of a plan, as PNG (and SVG if the study asks for it)."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from habitat.executor import give_back_memory
from habitat.progress import Progress
from habitat.report.jobs import Job, Shared
from habitat.report.maps.breaks import break_drawings
from habitat.report.maps.corridor import corridor_drawings
from habitat.report.maps.fit import fit_drawings
from habitat.report.maps.ground import (
    draw_closed,
    draw_soil,
    draw_sun,
    draw_sun_by_month,
    draw_yards,
    soil_factors,
    yard_factors,
)
from habitat.report.maps.invitations import draw_invitations
from habitat.report.maps.spot import can_look_up, draw_spot
from habitat.report.maps.style import style
from habitat.report.maps.town import draw_town
from habitat.report.maps.year import butterflies_of_plan, draw_year
from habitat.report.plan import Plan

Drawing = Callable[[Plan, Path], list[Path]]


def write_raster_maps(plan: Plan, folder: Path, progress: Progress | None = None) -> list[Path]:
    """Write every map that shows the site's cells; return the files in order.

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
    todo = raster_drawings(plan)
    out: list[Path] = []
    for done, draw in enumerate(todo):
        if progress is not None:
            progress("Drawing maps", done, len(todo))
        out += draw_map(Shared(plan), draw, folder)
    return out


def map_jobs(shared: Shared, folder: Path) -> list[Job]:
    """Return a job for each map of shapes and lines, which asks for no cell of a raster."""
    folder.mkdir(parents=True, exist_ok=True)
    return [partial(draw_map, draw=draw, folder=folder) for draw in line_drawings(shared.plan)]


def draw_map(shared: Shared, draw: Drawing, folder: Path) -> list[Path]:
    """Draw a map of the plan in the project's look."""
    with style():
        made = draw(shared.plan, folder)
    give_back_memory()
    return made


def raster_drawings(plan: Plan) -> list[Drawing]:
    """Return the maps of the site's cells, functions of plan and folder; what is not assessed has none."""
    todo: list[Drawing] = []
    if "sun_h" in plan.site.rasters:
        todo.append(draw_sun)
    if plan.site.sun_by_month:
        todo.append(draw_sun_by_month)
    if soil_factors(plan):
        todo.append(draw_soil)
    if yard_factors(plan):
        todo.append(draw_yards)
    if plan.site.assessed:
        todo += fit_drawings(plan)
    if can_look_up(plan):
        todo.append(draw_spot)
    return todo


def line_drawings(plan: Plan) -> list[Drawing]:
    """Return the maps of shapes and lines that the plan has something to show on, as ``raster_drawings``."""
    todo: list[Drawing] = [draw_town]
    if len(plan.site.closed_ground):
        todo.append(draw_closed)
    todo += corridor_drawings(plan)
    todo += break_drawings(plan)
    if len(plan.invitations):
        todo.append(draw_invitations)
    if butterflies_of_plan(plan):
        todo.append(draw_year)
    return todo

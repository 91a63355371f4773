"""All maps and figures of a plan, as PNG (and SVG if the study asks for it)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from habitat.report.map_style import style
from habitat.report.map_town import draw_town
from habitat.report.plan import Plan, Progress


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


def drawings(plan: Plan) -> list[Callable[[Plan, Path], list[Path]]]:
    """Return the maps to draw, each a function of plan and folder."""
    del plan
    return [draw_town]

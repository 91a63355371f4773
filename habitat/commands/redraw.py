"""``habitat redraw``: results drawn anew from tables that people edited."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import AsJson, Quiet
from habitat.commands.terminal import print_json, progress_lines, say


def redraw(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Edited results.", show_default=False)],
    plantings: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="An edited list of plantings, CSV or XLSX, from elsewhere."),
    ] = None,
    study: Annotated[
        Path | None, typer.Option(metavar="STUDY", help="The study file, if it has been moved.")
    ] = None,
    new: Annotated[
        Path | None, typer.Option("--out", metavar="FOLDER", help="Write here and leave DIR as it is.")
    ] = None,
    workers: Annotated[int | None, typer.Option(metavar="NUMBER", min=1, help="Processes.")] = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Write sheets, maps, lists, page and corridor anew from plan.gpkg or lists/plantings.csv as edited.

    For example: habitat redraw first_plan
    """
    from habitat.pipeline.one_run import redraw_results
    from habitat.report.words.en import english

    many = workers or min(os.cpu_count() or 1, 8)
    with progress_lines(quiet or as_json) as progress:
        plan, out, told = redraw_results(
            folder, study, new=new, listed=plantings, workers=many, progress=progress
        )
    lines = [*map(english(), plan.edits), *told, f"Open {out / 'page.html'}."]
    if as_json:
        print_json({"out": str(out), "notes": lines[:-1]})
    elif not quiet:
        for line in lines:
            say(line)

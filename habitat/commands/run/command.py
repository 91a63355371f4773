"""``habitat run`` on the command line."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import AsJson, Quiet, StudyPath, flag
from habitat.commands.terminal import print_json, progress_lines, say
from habitat.pipeline.apart import begin


def run(
    study: StudyPath,
    folder: Annotated[
        Path, typer.Option("--out", metavar="FOLDER", help="Folder to write; made new.", show_default=False)
    ],
    until: Annotated[
        str | None,
        typer.Option(
            metavar="STAGE", help="Stop after: layers, site, suitability, planting or connectivity."
        ),
    ] = None,
    yard: Annotated[
        list[str] | None,
        typer.Option(metavar="YARD", help="Plan only this yard, by id or address; may be given again."),
    ] = None,
    after: Annotated[
        Path | None,
        typer.Option(metavar="EARLIER", help="Keep the plans that are accepted in these results."),
    ] = None,
    everyone: Annotated[
        bool, flag("--everyone", "Plan yards that nobody signed up too, but for those that said no.")
    ] = False,
    effort: Annotated[str | None, typer.Option(metavar="WORD", help="quick or proven.")] = None,
    audience: Annotated[str | None, typer.Option(metavar="WORD", help="group or public.")] = None,
    replace: Annotated[bool, flag("--replace", "Replace results that are there.")] = False,
    resume: Annotated[bool, flag("--resume", "Go on with a run that died.")] = False,
    workers: Annotated[
        int | None,
        typer.Option(metavar="NUMBER", min=1, help="Processes; any number gives the same plan."),
    ] = None,
    details: Annotated[
        bool, flag("--details", "End with all figures in words, not with what is next.")
    ] = False,
    cluster: Annotated[
        str,
        typer.Option(
            metavar="ADDRESS", help="Plan on a dask cluster: local, or where its scheduler answers."
        ),
    ] = "",
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Do the whole job and write maps, sheets, lists, the page and the GIS package.

    For example: habitat run study.toml --out first_plan
    """
    begin()  # a process for reading, which imports while this one does
    from habitat.commands.run.job import RunOptions, run_job

    options = RunOptions(
        until=until,
        yard_ids=tuple(yard or ()),
        effort=effort,
        audience=audience,
        replace=replace,
        resume=resume,
        workers=workers or min(os.cpu_count() or 1, 8),
        cluster=cluster,
        after=after,
        everyone=everyone,
    )
    with progress_lines(quiet or as_json) as progress:
        result = run_job(study, folder, options, progress)
    if as_json:
        print_json(result)
    elif not quiet:
        for line in result["summary" if details else "next"]:
            say(line)
    raise typer.Exit(result["exit"])

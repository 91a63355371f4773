"""``habitat check`` on the command line."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import AsJson, Quiet, StudyPath, flag
from habitat.commands.terminal import err, out, print_json, print_rows, progress_lines, say
from habitat.pipeline.apart import begin


def check(
    study: StudyPath,
    as_json: AsJson = False,
    quiet: Quiet = False,
    overview: Annotated[
        Path | None,
        typer.Option("--map", metavar="FILE", help="Also draw an overview map into this PNG file."),
    ] = None,
    folder: Annotated[
        Path | None,
        typer.Option("--out", metavar="FOLDER", help="Also say whether a run could write there."),
    ] = None,
    replace: Annotated[bool, flag("--replace", "As for the run: results that are there give way.")] = False,
) -> None:
    """Read everything; say what is wrong, repaired, set aside, and what each yard holds.

    For example: habitat check study.toml
    """
    begin()  # a process for reading, which imports while this one does
    from habitat.commands.check import account as checks
    from habitat.commands.check.ready import refused_by_run
    from habitat.commands.check.words import word_notes
    from habitat.report.words.numbers import Units

    ready = partial(refused_by_run, folder=folder, replace=replace)
    with progress_lines(quiet or as_json) as progress:
        result = checks.check_study(study, progress, word_notes, overview, ready)
    if as_json:
        print_json(result)
    elif not quiet:
        units = Units(result["units"])
        for title, rows in checks.check_tables(result):
            print_rows(title, [row | {k: units.told(row[k]) for k in row if k == "how much"} for row in rows])
            out.print()
        if result["error"] is None and result["next"]:
            say(f"next: {result['next']}")
    if result["error"] is not None and not as_json:
        say(result["error"]["message"], err)
    raise typer.Exit(result["exit"])

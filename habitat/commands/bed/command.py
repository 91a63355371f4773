"""``habitat bed`` on the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import AsJson, Quiet, flag
from habitat.commands.terminal import out, print_json, say


def bed(
    place: Annotated[
        str | None,
        typer.Option(
            metavar="LAT,LON|STATE", help="Where: degrees north and east, or a state.", show_default=False
        ),
    ] = None,
    size: Annotated[
        str | None,
        typer.Option(
            metavar="SIZE", help='4x2m, 12x6ft, "a pot", "balcony box 1m x 25cm".', show_default=False
        ),
    ] = None,
    sun: Annotated[
        str | None, typer.Option(metavar="WORD|HOURS", help="full, part, shade, or hours of sun a day.")
    ] = None,
    soil: Annotated[str | None, typer.Option(metavar="WORD", help="sand, loam, clay or unknown.")] = None,
    wetness: Annotated[str | None, typer.Option(metavar="WORD", help="dry, medium or wet.")] = None,
    wishes: Annotated[
        list[str] | None,
        typer.Option(
            "--for", metavar="NAMES", help='Butterflies, with commas between, or "as many as possible".'
        ),
    ] = None,
    children: Annotated[bool, flag("--children", "Children play there: nothing to keep from them.")] = False,
    pets: Annotated[bool, flag("--pets", "Pets run there: nothing to keep from them.")] = False,
    style: Annotated[str | None, typer.Option(metavar="WORD", help="tidy, between or meadow.")] = None,
    folder: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Folder for the pages and lists.", show_default=False),
    ] = None,
    replace: Annotated[bool, flag("--replace", "Replace files of an earlier bed there.")] = False,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Design one bed, pot or balcony box from a few answers; on a terminal what is not given is asked.

    For example: habitat bed --place Ohio --size 12x6ft --sun full --for "monarch"
    """
    from habitat.commands.bed.dialogue import Answers, complete, may_ask
    from habitat.commands.bed.job import bed_record, design_answers, refuse_target, write_bed

    given = Answers(
        place=place, size=size, sun=sun, soil=soil, wetness=wetness, style=style,
        wishes=", ".join(wishes) if wishes else None, children=children or None, pets=pets or None,
    )  # fmt: skip
    refuse_target(folder, replace)
    answers = complete(given, ask=may_ask() and not as_json and not quiet)
    plan = design_answers(answers)
    files = write_bed(plan, folder) if folder is not None else []
    if as_json:
        print_json(bed_record(plan, files))
    elif not quiet:
        from habitat.report.bed.text import bed_text

        say(bed_text(plan, width=min(max(out.width, 60), 100)))
        for path in files:
            say(f"Written: {path}")

"""``habitat sketch`` on the command line: a page to draw a yard on, without a tape or a parcel file."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import Quiet
from habitat.commands.terminal import say, shown_command, shown_path
from habitat.errors import ParameterError

PAGE = "sketch.html"


def sketch(
    folder: Annotated[
        Path,
        typer.Argument(
            metavar="FOLDER", help="Study folder; made new where there is none.", show_default=False
        ),
    ],
    yard: Annotated[
        str | None,
        typer.Option(metavar="YARD", help="Draw in what is missing of this yard, by id or address."),
    ] = None,
    results: Annotated[
        Path | None,
        typer.Option("--from", metavar="DIR", help="Show the beds that are planned in these results."),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Write a page on which a yard is drawn with mouse, finger or keys, and a study that reads what it saves.

    For example: habitat sketch my_yard, or: habitat sketch our_street --yard 00417 --from our_plan
    """
    if yard is not None or results is not None:
        _sketch_parcel(folder, yard, results, quiet)
        return
    page = write_sketch(folder, dt.date.today().isoformat())
    if quiet:
        return
    saved = shown_path(folder / "tape.csv")
    say(f"Open {shown_path(page)} in any browser, draw the yard, and save the file as {saved}.")
    say(f"Then: {shown_command(['check', str(folder / 'study.toml')])}")


def _sketch_parcel(folder: Path, yard: str | None, results: Path | None, quiet: bool) -> None:
    from habitat.commands.sketch_parcel import write_parcel_sketch

    if yard is None:
        raise ParameterError("--from", str(results), "given beside --yard, which says whose plan is shown")
    page, saved = write_parcel_sketch(folder, yard, results)
    if quiet:
        return
    say(f"Open {shown_path(page)} in any browser and draw in what is missing.")
    say(f"Save the file as {shown_path(saved)}.")
    say(f'Name its folder in study.toml: [layers.more_yards] and path = "{saved.parent.name}".')
    say(f"Then: {shown_command(['check', str(folder)])}")


def write_sketch(folder: Path, date: str) -> Path:
    """Write the page into a study folder, which is made where it is not there, and return its path.

    Parameters
    ----------
    folder
        A folder with a study, whose files stay as they are, or one that is empty or not there.
    date
        ``study.date`` of a new study.

    Raises
    ------
    OutputError
        If the folder holds other things, but no study, or cannot be written.
    """
    from habitat.commands.new.folder import make_folder
    from habitat.commands.sketch_parcel import page_text
    from habitat.report.whole import write_whole

    if not (folder / "study.toml").is_file():
        make_folder(folder, yard=True, date=date)
    page = {PAGE: page_text().encode()}
    return write_whole(folder, page, "the page", "Name a folder that can be written")[0]

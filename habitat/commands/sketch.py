"""``habitat sketch`` on the command line: a page to draw a yard on, without a tape or a parcel file."""

from __future__ import annotations

import datetime as dt
from importlib import resources
from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import Quiet
from habitat.commands.terminal import say, shown_command, shown_path

PAGE = "sketch.html"


def sketch(
    folder: Annotated[
        Path,
        typer.Argument(
            metavar="FOLDER", help="Study folder; made new where there is none.", show_default=False
        ),
    ],
    quiet: Quiet = False,
) -> None:
    """Write a page on which a yard is drawn with mouse, finger or keys, and a study that reads what it saves.

    For example: habitat sketch my_yard
    """
    page = write_sketch(folder, dt.date.today().isoformat())
    if quiet:
        return
    saved = shown_path(folder / "tape.csv")
    say(f"Open {shown_path(page)} in any browser, draw the yard, and save the file as {saved}.")
    say(f"Then: {shown_command(['check', str(folder / 'study.toml')])}")


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
        If the folder holds other things, but no study.
    """
    from habitat.commands.new.folder import make_folder

    if not (folder / "study.toml").is_file():
        make_folder(folder, yard=True, date=date)
    assets = resources.files("habitat.report") / "assets"
    page = (assets / PAGE).read_text(encoding="utf-8")
    script = (assets / "sketch.js").read_text(encoding="utf-8")
    target = folder / PAGE
    target.write_text(page.replace("/*SCRIPT*/", script), encoding="utf-8")
    return target

"""``habitat new`` on the command line."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import Quiet, flag
from habitat.commands.terminal import say, shown_command, shown_path


def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to make.", show_default=False)],
    yard: Annotated[bool, flag("--yard", "One yard, measured by tape.")] = False,
    quiet: Quiet = False,
) -> None:
    """Make a study folder: a commented study file, a list of all its keys, and empty tables.

    For example: habitat new our_street
    """
    from habitat.commands.new.folder import make_folder

    files = make_folder(folder, yard=yard, date=dt.date.today().isoformat())
    if not quiet:
        for file in files:
            say(str(file))
        check = shown_command(["check", str(folder / "study.toml")])
        say(f"Read {shown_path(folder / 'READ_ME.txt')} first; then: {check}")

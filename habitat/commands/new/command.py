"""``habitat new`` on the command line."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import Quiet, flag
from habitat.commands.terminal import say, shown_command, shown_path


def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to make.", show_default=False)],
    yard: Annotated[bool, flag("--yard", "One yard, measured by tape.")] = False,
    currency: Annotated[
        str | None,
        typer.Option(
            metavar="SIGN", help="What prices are in: a sign, a code or a word.", show_default=False
        ),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Make a study folder: a commented study file, a list of all its keys, and empty tables.

    For example: habitat new our_street
    """
    from habitat.commands.new.folder import make_folder

    if currency is None and not quiet and sys.stdin.isatty():
        currency = typer.prompt(
            "What are prices in ($, EUR, kroner ...; Enter for no name)", default="", show_default=False
        )
    files = make_folder(folder, yard=yard, date=dt.date.today().isoformat(), currency=currency or "")
    if not quiet:
        for file in files:
            say(str(file))
        check = shown_command(["check", str(folder / "study.toml")])
        say(f"Read {shown_path(folder / 'READ_ME.txt')} first; then: {check}")

"""``habitat demo``: the study of the invented town, to try things on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import habitat
from habitat.commands.options import Quiet
from habitat.commands.terminal import say, shown_command
from habitat.errors import MissingFileError, OutputError


def demo(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to make.", show_default=False)],
    quiet: Quiet = False,
) -> None:
    """Write the study of Quillwater, an invented town, into a folder.

    For example: habitat demo quillwater
    """
    write_demo(folder)
    if not quiet:
        say(f"To check it: {shown_command(['check', str(folder)])}")
        say(f"To plan it:  {shown_command(['run', str(folder), '--out', 'first_plan'])}")


def demo_folder() -> Path:
    """Return where the demo's files lie: inside the installed package, or beside it in a checkout.

    Raises
    ------
    MissingFileError
        If they are in neither place.
    """
    package = Path(habitat.__file__).parent
    for place in (package / "sample_geodata", package.parent / "sample_geodata"):
        if (place / "study.toml").is_file():
            return place
    raise MissingFileError(
        "the files of the demo were not installed with habitat",
        str(package),
        "Install habitat again, from its wheel or checkout",
    )


def write_demo(folder: Path) -> list[Path]:
    """Copy the demo's study file and all files that it names into a new folder.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    OutputError
        If the folder exists and holds anything, or cannot be written.
    """
    from habitat.report.whole import write_whole
    from habitat.study.files import study_files
    from habitat.study.reading import read_study

    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputError(
            "this folder exists and is not empty", str(folder), "Name a new folder; nothing was overwritten"
        )
    files = study_files(read_study(demo_folder()))
    contents = {name: file.read_bytes() for name, file in files.items()}
    return write_whole(folder, contents, "the demo", "Name a folder that can be written")

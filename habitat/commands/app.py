"""The command line: its commands put together; what each does stands in a module or folder of its name."""

from __future__ import annotations

import sys
from importlib.metadata import version
from typing import Annotated

import typer

from habitat.commands.accept import accept
from habitat.commands.bed.command import bed
from habitat.commands.butterflies import butterflies
from habitat.commands.check.command import check
from habitat.commands.compare import compare
from habitat.commands.demo import demo
from habitat.commands.guard import Commands, guarded
from habitat.commands.new.command import new
from habitat.commands.open import open_results
from habitat.commands.options import Command
from habitat.commands.plants import plants
from habitat.commands.redraw import redraw
from habitat.commands.run.command import run
from habitat.commands.sketch import sketch
from habitat.commands.terminal import out
from habitat.commands.warm_up import warm_up
from habitat.commands.why.command import why
from habitat.pipeline.apart import reading_apart

app = typer.Typer(
    name="habitat",
    cls=Commands,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def _tell_version(asked: bool) -> None:
    if asked:
        out.print(f"habitat {version('habitat')}", highlight=False)
        raise typer.Exit


@app.callback()
def about(
    _version: Annotated[
        bool,
        typer.Option(
            "--version", help="Tell the version and exit.", metavar="", callback=_tell_version, is_eager=True
        ),
    ] = False,
) -> None:
    """Plan butterfly host plants, nectar and corridors over a neighbourhood of real yards.

    Begin with: habitat new our_street
    """


for command in (bed, new, sketch, demo, check, run, why, plants, butterflies, compare, accept, redraw):
    app.command(cls=Command)(command)
app.command("open", cls=Command)(open_results)
app.command(cls=Command)(warm_up)


def main() -> None:
    """Run the command line; README.md lists the exit codes."""
    with reading_apart():
        code = guarded(app, sys.argv[1:])
    sys.exit(code)


if __name__ == "__main__":
    main()

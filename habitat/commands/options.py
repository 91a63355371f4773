"""What several commands are told in the same way, and how options look in their help."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand


def flag(name: str, help_text: str) -> Any:
    """Return an option that is there or not, and takes no value."""
    return typer.Option(name, help=help_text, metavar="")


class PlainHelp:
    """Shows no value beside ``--help``, which takes none; for commands and groups of them."""

    def get_help_option(self, ctx: Any) -> Any:
        """Return ``--help``."""
        option = super().get_help_option(ctx)  # type: ignore[misc]
        if option is not None:
            option.metavar = ""
        return option


class Command(PlainHelp, TyperCommand):
    """A command."""


StudyPath = Annotated[
    Path,
    typer.Argument(
        metavar="STUDY", help="The study file, its folder, or a drawn yard (CSV).", show_default=False
    ),
]
OwnStudy = Annotated[
    Path | None,
    typer.Option("--study", metavar="STUDY", help="Lay this study's own tables over ours."),
]
Quiet = Annotated[bool, flag("--quiet", "Say nothing but errors.")]
AsJson = Annotated[bool, flag("--json", "Print one JSON object, for programs.")]

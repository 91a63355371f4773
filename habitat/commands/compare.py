"""``habitat compare``: two runs side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import AsJson, flag
from habitat.commands.terminal import print_json, say


def compare(
    before: Annotated[Path, typer.Argument(metavar="BEFORE", help="Folder of one run.", show_default=False)],
    after: Annotated[
        Path, typer.Argument(metavar="AFTER", help="Folder of the other run.", show_default=False)
    ],
    page: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also write the comparison as one HTML page.")
    ] = None,
    replace: Annotated[bool, flag("--replace", "Replace the page if it is there.")] = False,
    as_json: AsJson = False,
) -> None:
    """Put two runs side by side: what changed, and for whom.

    For example: habitat compare first_plan second_plan --page changes.html
    """
    from habitat.report.compare import runs as comparing

    result = comparing.compare_runs(before, after)
    if page is not None:
        comparing.write_comparison(result, page, replace=replace)
    if as_json:
        print_json(result)
    else:
        for line in comparing.comparison_lines(result):
            say(line)

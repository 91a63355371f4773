"""``habitat accept``: say what became of plans."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.options import AsJson, Quiet, flag
from habitat.commands.terminal import print_json, say
from habitat.terms import ACCEPTED, DRAFT

NAMED = 12
"""So many yards are named in the answer."""

WAIT_S = 10.0
"""So long another acceptance is waited for; each takes a moment (judgement)."""


def accept(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Results of a run.", show_default=False)],
    yard: Annotated[
        list[str] | None,
        typer.Option(metavar="YARD", help="This yard, by id or address; may be given again."),
    ] = None,
    members: Annotated[bool, flag("--members", "All yards that take part.")] = False,
    status: Annotated[
        str,
        typer.Option(
            metavar="WORD",
            help="draft, accepted, ordered, planted or declined; of asking: asked, said-no or ask-again.",
        ),
    ] = ACCEPTED,
    when: Annotated[
        str,
        typer.Option(
            metavar="YEAR", help="With ask-again: from when, if not from next year.", show_default=False
        ),
    ] = "",
    undo: Annotated[bool, flag("--undo", "Make drafts of them again, to be planned anew.")] = False,
    note: Annotated[str, typer.Option(metavar="TEXT", help="What to note beside.", show_default=False)] = "",
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Say which plans are accepted and who was asked, so that the next run with --after goes by it.

    For example: habitat accept first_plan --yard 00417 --yard "12 Kiln Street"

    Or: habitat accept first_plan --yard "14 Kiln Street" --status said-no
    """
    from habitat.pipeline.alone import alone_in
    from habitat.report.words.en import english
    from habitat.revision.deciding import decide
    from habitat.revision.decisions import status_word

    word = DRAFT if undo else status_word(status)
    today = dt.date.today().isoformat()
    with alone_in(folder, WAIT_S):
        chosen, notes = decide(
            folder, yards=yard or (), members=members, status=word, date=today, note=note, when=when.strip()
        )
    if as_json:
        print_json({"status": word, "yards": chosen, "notes": [english()(n) for n in notes]})
    elif not quiet:
        more = f" and {len(chosen) - NAMED} more" if len(chosen) > NAMED else ""
        say(f"{word}: {', '.join(chosen[:NAMED])}{more} ({len(chosen)} in {folder / 'decisions.csv'}).")
        for one in notes:
            say(english()(one))

"""``habitat butterflies``: look butterflies up."""

from __future__ import annotations

from typing import Annotated

import typer

from habitat.commands.options import AsJson, OwnStudy


def butterflies(
    name: Annotated[
        str | None,
        typer.Argument(metavar="BUTTERFLY", help="A butterfly, by any of its names.", show_default=False),
    ] = None,
    eats: Annotated[
        str | None, typer.Option("--for", metavar="PLANT", help="Butterflies that breed on this plant.")
    ] = None,
    month: Annotated[
        int | None,
        typer.Option("--flying-in", metavar="MONTH", min=1, max=12, help="Adults fly in this month (1-12)."),
    ] = None,
    own: OwnStudy = None,
    as_json: AsJson = False,
) -> None:
    """Look butterflies up; with a name, show its year and what it eats.

    For example: habitat butterflies --for "spicebush"
    """
    from habitat.commands.lookup import knowledge_of, show
    from habitat.knowledge import lookup

    knowledge = knowledge_of(own)
    if name is not None:
        show(lookup.describe_butterfly(knowledge, name), name, as_json=as_json)
    else:
        found = lookup.find_butterflies(knowledge, eats=eats, month=month)
        show(found, "Butterflies", as_json=as_json)

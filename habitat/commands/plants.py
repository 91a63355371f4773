"""``habitat plants``: look plants up."""

from __future__ import annotations

from typing import Annotated

import typer

from habitat.commands.options import AsJson, OwnStudy, flag


def plants(
    name: Annotated[
        str | None,
        typer.Argument(metavar="PLANT", help="A plant, by any of its names.", show_default=False),
    ] = None,
    eaten_by: Annotated[
        str | None, typer.Option(metavar="BUTTERFLY", help="Host plants of this butterfly.")
    ] = None,
    shade: Annotated[bool, flag("--shade", "Content with less than 4 hours of sun.")] = False,
    bloom: Annotated[
        int | None, typer.Option(metavar="MONTH", min=1, max=12, help="In bloom in this month (1-12).")
    ] = None,
    own: OwnStudy = None,
    as_json: AsJson = False,
) -> None:
    """Look plants up; with a name, show every value and where it comes from.

    For example: habitat plants --eaten-by monarch --shade
    """
    from habitat.commands.lookup import knowledge_of, show
    from habitat.knowledge import lookup

    knowledge = knowledge_of(own)
    if name is not None:
        show(lookup.describe_plant(knowledge, name), name, as_json=as_json)
    else:
        found = lookup.find_plants(knowledge, eaten_by=eaten_by, shade=shade, bloom=bloom)
        show(found, "Plants", as_json=as_json)

"""``habitat why`` on the command line."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from habitat.commands.options import AsJson, Quiet, StudyPath
from habitat.commands.terminal import print_json, print_rows, progress_lines, say, score_bar, score_words
from habitat.pipeline.apart import begin


def why(
    study: StudyPath,
    yard: Annotated[
        str, typer.Option(metavar="YARD", help="The yard, by id or address.", show_default=False)
    ],
    plant: Annotated[
        str,
        typer.Option(metavar="PLANT", help="The plant, by scientific or common name.", show_default=False),
    ],
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Say why a plant can or cannot go into a yard, and what would do instead.

    For example: habitat why study.toml --yard Q-014 --plant "swamp milkweed"
    """
    begin()  # a process for reading, which imports while this one does
    from habitat.commands.why.answer import explain_plant

    with progress_lines(quiet or as_json) as progress:
        result = explain_plant(study, yard, plant, progress)
    if as_json:
        print_json(result)
    else:
        _print_answer(result)


def _print_answer(result: dict[str, Any]) -> None:
    from habitat.report.words.numbers import Units

    units = Units(result["units"])
    for line in (result["sentence"], result["kept_out"], result["where"]):
        if line:
            say(units.told(line))
    needs = [
        {k: need[k] for k in ("need", "here", "wanted")}
        | {"score": score_words(need["score"]), "met": score_bar(need["score"])}
        | {"limits": "most" if need["limiting"] else ""}
        for need in result["needs"]
    ]
    print_rows("What it needs, and what is there", needs)
    if result["closed"]:
        closed = [{"reason": r["reason"], "area": units.area(r["area_m2"])} for r in result["closed"]]
        print_rows("Ground that is closed to it", closed)
    for line in (*result["advice"], *result["sure"]):
        say(f"- {units.told(line)}")
    print_rows(result["instead"], [_alternative(row) for row in result["alternatives"]])
    say(result["reading"])


def _alternative(row: dict[str, Any]) -> dict[str, Any]:
    """Return what a person wants to read of an alternative."""
    out_of_it = row["kept_out"] and f"kept out: {row['kept_out']}"
    return {"plant": f"{row['common_name']} ({row['plant']})", "fit": row["fit"], "but": out_of_it}

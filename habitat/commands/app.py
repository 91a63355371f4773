"""The commands: each parses, calls, writes. Errors that a user can mend are printed as text."""

from __future__ import annotations

import datetime as dt
import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from habitat.commands.terminal import err, out, print_json, print_rows, progress_lines, score_bar, score_words
from habitat.errors import HabitatError

app = typer.Typer(
    name="habitat",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Plan butterfly host plants, nectar and corridors over a neighbourhood of real yards.\n\n"
    "Begin with: habitat new our_street",
)

StudyPath = Annotated[Path, typer.Argument(help="The study file, or its folder.", show_default=False)]
Quiet = Annotated[bool, typer.Option("--quiet", help="Say nothing but errors.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object, for programs.")]


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="Folder to make.", show_default=False)],
    yard: Annotated[bool, typer.Option("--yard", help="One yard, measured by tape.")] = False,
    quiet: Quiet = False,
) -> None:
    """Make a study folder: a commented study file and empty tables.

    For example: habitat new our_street
    """
    from habitat.commands.new.folder import make_folder

    files = make_folder(folder, yard=yard, date=dt.date.today().isoformat())
    if not quiet:
        for file in files:
            out.print(str(file), highlight=False, soft_wrap=True)
        out.print(
            f"Read {folder / 'READ_ME.txt'} first; then: habitat check {folder / 'study.toml'}",
            soft_wrap=True,
        )


@app.command()
def check(
    study: StudyPath,
    as_json: AsJson = False,
    quiet: Quiet = False,
    overview: Annotated[
        Path | None, typer.Option("--map", help="Also draw an overview map into this PNG file.")
    ] = None,
) -> None:
    """Read everything; say what is wrong, repaired, set aside, and what each yard holds.

    For example: habitat check study.toml
    """
    from habitat.commands.check import account as checks
    from habitat.commands.check.words import word_notes
    from habitat.report.words.numbers import Units

    with progress_lines(quiet or as_json) as progress:
        result = checks.check_study(study, progress, word_notes, overview)
    if as_json:
        print_json(result)
    elif not quiet:
        units = Units(result["units"])
        for title, rows in checks.check_tables(result):
            print_rows(title, [row | {k: units.told(row[k]) for k in row if k == "how much"} for row in rows])
            out.print()
    if result["error"] is not None and not as_json:
        err.print(result["error"]["message"], highlight=False, markup=False, soft_wrap=True)
    raise typer.Exit(result["exit"])


@app.command()
def run(
    study: StudyPath,
    folder: Annotated[Path, typer.Option("--out", help="Folder to write; made new.", show_default=False)],
    until: Annotated[
        str | None, typer.Option(help="Stop after: layers, site, suitability, planting or connectivity.")
    ] = None,
    yard: Annotated[
        list[str] | None, typer.Option(help="Plan only this yard, by id or address; may be given again.")
    ] = None,
    effort: Annotated[str | None, typer.Option(help="quick or proven.")] = None,
    audience: Annotated[str | None, typer.Option(help="group or public.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace results that are there.")] = False,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with a run that died.")] = False,
    workers: Annotated[
        int | None, typer.Option(min=1, help="Processes; any number gives the same plan.")
    ] = None,
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Do the whole job and write maps, sheets, lists, the page and the GIS package.

    For example: habitat run study.toml --out first_plan
    """
    from habitat.commands.run import RunOptions, run_job

    options = RunOptions(
        until=until,
        yard_ids=tuple(yard or ()),
        effort=effort,
        audience=audience,
        replace=replace,
        resume=resume,
        workers=workers or min(os.cpu_count() or 1, 8),
    )
    with progress_lines(quiet or as_json) as progress:
        result = run_job(study, folder, options, progress)
    if as_json:
        print_json(result)
    elif not quiet:
        for line in result["summary"]:
            out.print(line, highlight=False, markup=False, soft_wrap=True)
    raise typer.Exit(result["exit"])


@app.command()
def why(
    study: StudyPath,
    yard: Annotated[str, typer.Option(help="The yard, by id or address.", show_default=False)],
    plant: Annotated[str, typer.Option(help="The plant, by scientific or common name.", show_default=False)],
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Say why a plant can or cannot go into a yard, and what would do instead.

    For example: habitat why study.toml --yard Q-014 --plant "swamp milkweed"
    """
    from habitat.commands.why.answer import explain_plant
    from habitat.report.words.numbers import Units

    with progress_lines(quiet or as_json) as progress:
        result = explain_plant(study, yard, plant, progress)
    if as_json:
        print_json(result)
        return
    units = Units(result["units"])
    for line in (result["sentence"], result["kept_out"], result["where"]):
        if line:
            out.print(units.told(line), highlight=False, markup=False, soft_wrap=True)
    told = [
        {k: need[k] for k in ("need", "here", "wanted")}
        | {"score": score_words(need["score"]), "met": score_bar(need["score"])}
        | {"limits": "most" if need["limiting"] else ""}
        for need in result["needs"]
    ]
    print_rows("What it needs, and what is there", told)
    if result["closed"]:
        closed = [{"reason": r["reason"], "area": units.area(r["area_m2"])} for r in result["closed"]]
        print_rows("Ground that is closed to it", closed)
    for line in (*result["advice"], *result["sure"]):
        out.print(f"- {units.told(line)}", highlight=False, markup=False, soft_wrap=True)
    print_rows(result["instead"], [_alternative(row) for row in result["alternatives"]])
    out.print(result["reading"], highlight=False, markup=False, soft_wrap=True)


def _alternative(row: dict[str, Any]) -> dict[str, Any]:
    """Return what a person wants to read of an alternative."""
    out_of_it = row["kept_out"] and f"kept out: {row['kept_out']}"
    return {"plant": f"{row['common_name']} ({row['plant']})", "fit": row["fit"], "but": out_of_it}


@app.command()
def plants(
    name: Annotated[
        str | None, typer.Argument(help="A plant, by any of its names.", show_default=False)
    ] = None,
    eaten_by: Annotated[str | None, typer.Option(help="Host plants of this butterfly.")] = None,
    shade: Annotated[bool, typer.Option("--shade", help="Content with less than 4 hours of sun.")] = False,
    bloom: Annotated[int | None, typer.Option(min=1, max=12, help="In bloom in this month (1-12).")] = None,
    own: Annotated[
        Path | None, typer.Option("--study", help="Lay this study's own tables over ours.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Look plants up; with a name, show every value and where it comes from.

    For example: habitat plants --eaten-by monarch --shade
    """
    from habitat.knowledge import lookup

    knowledge = knowledge_of(own)
    if name is not None:
        show(lookup.describe_plant(knowledge, name), name, as_json)
    else:
        show(lookup.find_plants(knowledge, eaten_by=eaten_by, shade=shade, bloom=bloom), "Plants", as_json)


@app.command()
def butterflies(
    name: Annotated[
        str | None, typer.Argument(help="A butterfly, by any of its names.", show_default=False)
    ] = None,
    eats: Annotated[str | None, typer.Option("--for", help="Butterflies that breed on this plant.")] = None,
    month: Annotated[
        int | None, typer.Option("--flying-in", min=1, max=12, help="Adults fly in this month (1-12).")
    ] = None,
    own: Annotated[
        Path | None, typer.Option("--study", help="Lay this study's own tables over ours.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Look butterflies up; with a name, show its year and what it eats.

    For example: habitat butterflies --for "spicebush"
    """
    from habitat.knowledge import lookup

    knowledge = knowledge_of(own)
    if name is not None:
        show(lookup.describe_butterfly(knowledge, name), name, as_json)
    else:
        show(lookup.find_butterflies(knowledge, eats=eats, month=month), "Butterflies", as_json)


@app.command()
def compare(
    before: Annotated[Path, typer.Argument(help="Folder of one run.", show_default=False)],
    after: Annotated[Path, typer.Argument(help="Folder of the other run.", show_default=False)],
    page: Annotated[Path | None, typer.Option(help="Also write the comparison as one HTML page.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the page if it is there.")] = False,
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
            out.print(line, highlight=False, markup=False, soft_wrap=True)


def knowledge_of(study: Path | None) -> Any:
    """Return the knowledge tables, with a study's own laid over them if one is named."""
    from habitat.knowledge import load_knowledge
    from habitat.settings.knowledge import KnowledgeSettings
    from habitat.study.reading import read_study

    if study is None:
        return load_knowledge(KnowledgeSettings())
    read = read_study(study)
    knowledge = load_knowledge(read.knowledge, read.folder)
    for words in knowledge.set_aside:
        err.print(words, highlight=False, markup=False, soft_wrap=True)
    return knowledge


def show(frame: Any, title: str, as_json: bool) -> None:
    """Print a table, or the same as JSON."""
    rows = frame.to_dict(orient="records")
    if as_json:
        print_json({"rows": rows})
    else:
        print_rows(title, rows)


def main() -> None:
    """Run the command line; a HabitatError is printed as text and ends in exit code 2."""
    try:
        app()
    except HabitatError as error:
        err.print(str(error), highlight=False, markup=False, soft_wrap=True)
        sys.exit(2)


if __name__ == "__main__":
    main()

"""What a results folder holds: one list of outputs, each with its words for READ_ME.txt and its writer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from habitat.executor import Executor, give_back_memory
from habitat.progress import Progress
from habitat.report.handover.dxf import write_dxf
from habitat.report.handover.files import handover_jobs
from habitat.report.jobs import Job, Shared, about, do, without_cells
from habitat.report.lists.blocks import write_blocks
from habitat.report.lists.calendar import write_calendar
from habitat.report.lists.contacts import contacts_table, groups_in, write_contacts
from habitat.report.lists.decisions import write_as_edited, write_decisions
from habitat.report.lists.groups import write_groups
from habitat.report.lists.letters import (
    letter_writer,
    letters_for_spring,
    letters_to_ask,
    letters_to_hand_over,
)
from habitat.report.lists.matches import matches_of, write_matches
from habitat.report.lists.plantings import write_plantings
from habitat.report.lists.printed import write_lists
from habitat.report.lists.schedule import write_schedule
from habitat.report.lists.season import write_season_form
from habitat.report.lists.shopping import write_shopping
from habitat.report.lists.survival import write_survival
from habitat.report.lists.walk import write_walk_list
from habitat.report.lists.walk_form import write_walk_form
from habitat.report.maps.all import map_jobs, write_raster_maps
from habitat.report.package.carried import write_carried
from habitat.report.package.exchange import write_geojson
from habitat.report.package.geopackage import write_geopackage, write_run_json
from habitat.report.package.rasters import write_rasters
from habitat.report.package.read_me import write_read_me
from habitat.report.package.styles import write_styles
from habitat.report.package.summary import write_summary
from habitat.report.page.page import write_page
from habitat.report.page.progress import write_progress
from habitat.report.page.single import yard_page_jobs
from habitat.report.plan import Plan
from habitat.report.sheets.files import sheet_jobs, write_print_files
from habitat.report.teaching.files import write_teaching
from habitat.report.teaching.kinds import served_kinds

EVERYBODY = ("group", "public")


@dataclass(frozen=True, slots=True)
class Output:
    """A file or folder of the results.

    Parameters
    ----------
    name
        Its path within the results; a folder ends in ``/``.
    words
        What it is, for READ_ME.txt.
    write
        Writes it, given the plan (already reduced for its audience) and its path; equal plans give equal
        bytes. None for what is written when all else is done, or by jobs alone.
    jobs
        What of it other processes make meanwhile: given the plan and its path, jobs that return files.
    finish
        Called at the end with the plan, its path and the files that its jobs made.
    audience
        Who gets it.
    asked
        Whether a study asks for it.
    large
        Takes much memory, so it is written first, while other processes have little of it yet.
    """

    name: str
    words: str
    write: Callable[[Plan, Path], object] | None = None
    jobs: Callable[[Shared, Path], list[Job]] | None = None
    finish: Callable[[Plan, Path, list[Path]], object] | None = None
    audience: tuple[str, ...] = EVERYBODY
    asked: Callable[[Plan], bool] = lambda _: True
    large: bool = False


def _format(name: str) -> Callable[[Plan], bool]:
    return lambda plan: name in plan.study.report.formats


OUTPUTS = (
    Output(
        "page.html",
        "everything on one page; opens in any browser without a network, on a phone too",
        write_page,
    ),
    Output(
        "yards/",
        "a page for each household in one file, to send to it alone, and its calendar (a note a month)",
        jobs=yard_page_jobs,
        audience=("group",),
    ),
    Output(
        "sheets/",
        "a sheet per yard to print (PDF), and all of them in one file, all-yards.pdf",
        jobs=sheet_jobs,
        finish=write_print_files,
    ),
    Output(
        "teaching/",
        "a page to teach with for each butterfly and moth that breeds here (PDF): stages, year, hosts",
        write_teaching,
        asked=lambda plan: bool(served_kinds(plan)),
    ),
    Output("maps/", "maps as pictures", write_raster_maps, map_jobs, large=True),
    Output("shopping.csv", "what to buy; opens in a spreadsheet", write_shopping),
    Output(
        "lists/",
        "lists to print: what to buy, what each household picks up; an empty form to count on",
        write_lists,
    ),
    Output(
        "lists/plant-schedule.csv",
        "per yard: trees, shrubs, tall and low plants; count, size in metres",
        write_schedule,
    ),
    Output(
        "lists/plantings.csv",
        "all plantings as a table to edit: swap a plant, change a count, strike a row; then 'habitat redraw'",
        write_plantings,
        audience=("group",),
    ),
    Output(
        "lists/blocks-to-ask.csv",
        "which neighbours to ask in one go: up to five adjoining yards that together add most",
        write_blocks,
        audience=("group",),
        asked=lambda plan: plan.blocks is not None and len(plan.blocks) > 0,
    ),
    Output(
        "lists/walk-list.csv",
        "whom to ask next, street by street with house numbers in order: what is special about each yard, "
        "and room for the answer",
        write_walk_list,
        audience=("group",),
        asked=lambda plan: len(plan.invitations) > 0 or bool(plan.asked),
    ),
    Output(
        "lists/letters.txt",
        "a letter for each of these doors, a page each (also PDF); in your own words with report.letter_ask",
        letter_writer(letters_to_ask, "Letters"),
        audience=("group",),
        asked=lambda plan: len(plan.invitations) > 0,
    ),
    Output(
        "lists/walk-form.csv",
        "a row per yard whose plan is a draft, to write down what its household saw on a walk; name it under "
        "[layers.walk]. walk-sheets.pdf beside it has the page that each takes along",
        write_walk_form,
        audience=("group",),
    ),
    Output(
        "lists/letters-hand-over.txt",
        "a letter to go with each sheet whose plan is a draft (also PDF); report.letter_hand_over",
        letter_writer(letters_to_hand_over, "Letters"),
        audience=("group",),
        asked=lambda plan: bool(letters_to_hand_over(plan)),
    ),
    Output(
        "lists/letters-spring.txt",
        "a letter to remind each household in spring (also PDF); report.letter_spring",
        letter_writer(letters_for_spring, "Letters"),
        audience=("group",),
        asked=lambda plan: bool(contacts_table(plan)["takes_part"].any()),
    ),
    Output(
        "lists/contacts.csv",
        "who lives where (as on the sign-up sheet), which sheet, what it costs, when to pick up: for letters",
        write_contacts,
        audience=("group",),
    ),
    Output(
        "groups/",
        "where the sign-up sheet names several groups: for each its shopping, pick-up, contacts and sheets",
        finish=write_groups,
        audience=("group",),
        asked=lambda plan: bool(groups_in(plan)),
    ),
    Output(
        "lists/season-form.csv",
        "a row per planting, to write down what was planted, lives and was eaten (also XLSX, and PDF to "
        "print); name it under [layers.season], and the next run with --after plans on from it",
        write_season_form,
        audience=("group",),
    ),
    Output(
        "lists/survival.csv",
        "how many plants lived in your yards, by plant and kind of ground, with an interval, beside what is "
        "published",
        write_survival,
        audience=("group",),
        asked=lambda plan: plan.carried is not None and bool(plan.carried.survival),
    ),
    Output(
        "progress.html",
        "how the corridor has grown, season by season: yards, plants alive, broods, linked ground, species",
        write_progress,
        audience=("group",),
        asked=lambda plan: plan.carried is not None and len(plan.carried.history) > 1,
    ),
    Output(
        "decisions.csv",
        "what became of each plan (draft, accepted, ordered, planted or declined) and of asking (asked, said "
        "no or ask again); edit it, and plan on with 'habitat run STUDY --out NEW --after FOLDER'",
        write_decisions,
        audience=("group",),
    ),
    Output(
        "matches.csv",
        "which row of the sign-up sheet joined which yard, and how; write confirmed or refused under answer: "
        "runs with --after, or with [layers.matches], go by it",
        write_matches,
        audience=("group",),
        asked=lambda plan: bool(matches_of(plan)),
    ),
    Output(
        "as_edited/",
        "what people edited in the results before these, as it came",
        write_as_edited,
        audience=("group",),
        asked=lambda plan: bool(plan.as_edited),
    ),
    Output("calendar.ics", "when to do what, a note a month; opens in a calendar program", write_calendar),
    Output(
        "plan.gpkg",
        "the GIS package (OGC GeoPackage): all tables and shapes; layers are listed below",
        write_geopackage,
    ),
    Output(
        "styles/",
        "how the layers may be drawn, as OGC Styled Layer Descriptors; choose one per layer",
        lambda _, folder: write_styles(folder),
    ),
    Output(
        "geojson/",
        "the same layers as GeoJSON, in longitude and latitude",
        write_geojson,
        asked=_format("geojson"),
    ),
    Output(
        "plan.dxf",
        "a drawing of yards, beds and plants for drawing programs, in metres",
        write_dxf,
        asked=_format("dxf"),
    ),
    Output(
        "handover/",
        "for a landscape designer, for each yard: a drawing (DXF) and the plan at true scale with schedule, "
        "bloom by month and a section (PDF; the plans alone as SVG)",
        jobs=handover_jobs,
        audience=("group",),
        asked=_format("handover"),
    ),
    Output(
        "rasters/", "sun hours of day and afternoon, fit of plants, as cloud-optimised GeoTIFF", write_rasters
    ),
    Output(
        "summary.txt",
        "the figures of this run in words: what was planned, found and left open",
        write_summary,
    ),
    Output("run.json", "versions, settings and headline figures, for programs", write_run_json),
    Output(
        "for_next_run.json",
        "what the run settled on the way: a run with --after plans drafts by the same, so that who joins "
        "later changes no more than must be",
        write_carried,
        audience=("group",),
    ),
    Output("timings.json", "how long each stage took, and how much memory"),
    Output("files.json", "all these files with their SHA-256: by it a later run knows what you have edited"),
)
"""All outputs, in the order of READ_ME.txt; the last two are written by ``report.write`` when all is done."""


def outputs_for(plan: Plan) -> list[Output]:
    """Return the outputs that a plan's study asks for and its audience gets, in the order of READ_ME.txt."""
    audience = plan.study.report.audience
    return [output for output in OUTPUTS if audience in output.audience and output.asked(plan)]


def write_files(plan: Plan, work: Path, workers: int, tell: Progress) -> None:
    """Write every result of a plan into an empty folder.

    Parameters
    ----------
    plan
        Already reduced for its audience.
    work
        The folder.
    workers
        Processes at work: others set sheets and draw maps of lines while this one writes the rest.
    tell
        Called with (words, done, total).
    """
    give_back_memory()
    shared = Shared(plan if workers < 2 else without_cells(plan))
    wanted = outputs_for(plan)
    found = [(o.name, job) for o in wanted if o.jobs is not None for job in o.jobs(shared, work / o.name)]
    turn = sorted(range(len(found)), key=lambda k: about(found[k][1]))  # what is of one yard side by side
    with (
        Executor(workers - 1 if workers > 1 else 0) as executor,
        executor.beside(do, [found[k][1] for k in turn], shared) as begun,
    ):
        _write_here(plan, wanted, work, tell)
        files = dict(zip(turn, _told(begun, len(turn), tell), strict=True))
    made: dict[str, list[Path]] = {}
    for k, (name, _) in enumerate(found):
        made.setdefault(name, []).extend(files[k])
    for output in wanted:
        if output.finish is not None:  # takes memory, which the other processes gave back
            tell(f"Finishing {output.name}", 0, 1)
            output.finish(plan, work / output.name, made.get(output.name, []))
    write_read_me(plan, work, [(o.name, o.words) for o in wanted])  # last, since it tells what is there


def _write_here(plan: Plan, wanted: list[Output], work: Path, tell: Progress) -> None:
    """Write in this process what is not made by jobs."""
    todo = sorted((o for o in wanted if o.write is not None), key=lambda o: not o.large)
    for done, output in enumerate(todo):
        tell(f"Writing {output.name}", done, len(todo))
        if output.write is not None:
            path = work / output.name
            path.parent.mkdir(exist_ok=True)
            output.write(plan, path)
        give_back_memory()


def _told(begun: Iterable[list[Path]], total: int, tell: Progress) -> Iterator[list[Path]]:
    """Yield what jobs made, and tell how far they are."""
    for done, files in enumerate(begun):
        tell("Writing sheets, pages and maps", done, total)
        yield files

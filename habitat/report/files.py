"""What a results folder holds, and who writes it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from habitat.executor import Executor, give_back_memory
from habitat.progress import Progress
from habitat.report.desk import Desk, do, without_cells
from habitat.report.lists.calendar import write_calendar
from habitat.report.lists.printed import write_count_form, write_printed_lists
from habitat.report.lists.schedule import write_schedule
from habitat.report.lists.shopping import write_shopping
from habitat.report.maps.all import map_jobs, write_raster_maps
from habitat.report.package.exchange import write_dxf, write_geojson
from habitat.report.package.geopackage import write_geopackage, write_run_json
from habitat.report.package.rasters import write_rasters
from habitat.report.package.read_me import write_read_me
from habitat.report.package.styles import write_styles
from habitat.report.page.page import write_page
from habitat.report.plan import Plan
from habitat.report.sheets.files import sheet_jobs, write_print_files


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
    desk = Desk(plan if workers < 2 else without_cells(plan))
    sheets = sheet_jobs(desk, work / "sheets")
    maps = map_jobs(plan, work / "maps")
    with (
        Executor(workers - 1 if workers > 1 else 0) as executor,
        executor.beside(do, [*sheets, *maps], desk) as begun,
    ):
        todo = steps()
        for done, (words, write) in enumerate(todo):
            tell(f"Writing {words}", done, len(todo))
            write(plan, work, tell)
            give_back_memory()
        files: list[Path] = []
        for done in range(len(sheets)):
            tell("Setting yard sheets", done, len(sheets))
            files += next(begun)
        for done, _ in enumerate(begun):
            tell("Drawing maps of the corridor", done, len(maps))
    tell("Merging sheets for the print shop", len(sheets), len(sheets))
    write_print_files(files, work / "sheets", plan)  # takes memory, which the other processes gave back
    write_run_json(plan, work / "run.json")
    write_read_me(plan, work)  # last, since it tells what is there


def write_formats(plan: Plan, work: Path) -> None:
    """Write styles for the GIS package, and the formats that the study asks for."""
    write_styles(work / "styles")
    if "geojson" in plan.study.report.formats:
        write_geojson(plan, work / "geojson")
    if "dxf" in plan.study.report.formats:
        write_dxf(plan, work / "plan.dxf")


def write_lists(plan: Plan, work: Path) -> None:
    """Write what to buy, what each household picks up, plants by size, and the form to count on."""
    write_shopping(plan, work / "shopping.csv")
    (work / "lists").mkdir()
    write_printed_lists(plan, work / "lists")
    write_count_form(plan, work / "lists" / "count-form.csv")
    write_schedule(plan, work / "lists" / "plant-schedule.csv")


Step = Callable[[Plan, Path, Progress], object]


def steps() -> tuple[tuple[str, Step], ...]:
    """Return what is written beside sheets and maps of lines, in words, and by whom.

    Maps of cells come first: they take most memory, and other processes have little of it yet.
    """
    return (
        ("maps", lambda plan, work, tell: write_raster_maps(plan, work / "maps", tell)),
        ("GIS package", lambda plan, work, _: write_geopackage(plan, work / "plan.gpkg")),
        ("other formats", lambda plan, work, _: write_formats(plan, work)),
        ("rasters", lambda plan, work, _: write_rasters(plan, work / "rasters")),
        ("page", lambda plan, work, _: write_page(plan, work / "page.html")),
        ("lists", lambda plan, work, _: write_lists(plan, work)),
        ("calendar", lambda plan, work, _: write_calendar(plan, work / "calendar.ics")),
    )

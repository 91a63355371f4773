"""Yard sheets: one PDF per household, and all of them in street order for the print shop."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from pathlib import Path

from habitat.errors import NotFoundError
from habitat.report.desk import Desk, Job
from habitat.report.plan import Plan, Progress
from habitat.report.sheet_data import sheet_data, sized
from habitat.report.sheet_facts import FactFinder, YardFacts, street_order
from habitat.report.sheet_fit import MOST_PAGES, sizes_from
from habitat.report.sheet_measure import lay_out
from habitat.report.sheet_print import merge_sheets
from habitat.report.typeset import Typesetter, head
from habitat.report.words import file_names

PER_PRINT_FILE = 250
"""Yards in one file for the print shop; more go into further files, so that memory does not grow."""


def write_sheets(
    plan: Plan, folder: Path, yard_ids: Iterable[str] | None = None, progress: Progress | None = None
) -> list[Path]:
    """Write ``yard-<id>.pdf`` for each yard with a plan, and ``all-yards.pdf`` in street order.

    Parameters
    ----------
    plan
        Already reduced for its audience.
    folder
        Where they go; it is made if it is not there.
    yard_ids
        Only these yards; None for every yard that was planned.
    progress
        Called with (words, done, total).

    Returns
    -------
    list of Path
        The files; those for the print shop last (see ``write_print_files``).

    Raises
    ------
    NotFoundError
        If a yard is not in the plan.
    """
    desk = Desk(plan)
    jobs = sheet_jobs(desk, folder, yard_ids)
    files = []
    for done, job in enumerate(jobs):
        if progress is not None:
            progress("Setting yard sheets", done, len(jobs))
        files += job(desk)
    return [*files, *write_print_files(files, folder, plan)]


def sheet_jobs(desk: Desk, folder: Path, yard_ids: Iterable[str] | None = None) -> list[Job]:
    """Return a job for each yard's sheet, in street order; parameters and errors as ``write_sheets``."""
    folder.mkdir(parents=True, exist_ok=True)
    chosen = _chosen(desk.finder, yard_ids)
    names = file_names(chosen, "yard-", ".pdf")
    ordered = street_order(desk.plan, chosen)
    return [partial(_write_sheet, yard_id=y, file=folder / names[y]) for y in ordered]


def _write_sheet(desk: Desk, yard_id: str, file: Path) -> list[Path]:
    file.write_bytes(set_sheet(desk.finder.of(yard_id), desk.setter))
    return [file]


def write_print_files(files: list[Path], folder: Path, plan: Plan) -> list[Path]:
    """Merge sheets for the print shop: all in ``all-yards.pdf``, or in several files if there are very many.

    Those are called ``all-yards-2.pdf`` and so on; each holds at most PER_PRINT_FILE yards.
    """
    out = []
    for start in range(0, len(files), PER_PRINT_FILE):
        part = start // PER_PRINT_FILE + 1
        out.append(folder / ("all-yards.pdf" if part == 1 else f"all-yards-{part}.pdf"))
        merge_sheets(files[start : start + PER_PRINT_FILE], out[-1], "All yards", plan.study.study.date)
    return out


def _chosen(finder: FactFinder, yard_ids: Iterable[str] | None) -> list[str]:
    if yard_ids is None:
        return finder.yards_with_plans()
    known = set(finder.plan.yards["yard_id"])
    chosen = list(dict.fromkeys(yard_ids))
    for yard_id in chosen:
        if yard_id not in known:
            raise NotFoundError(f"there is no yard {yard_id!r} in the plan", "", "See plan.yards.yard_id")
    return chosen


def set_sheet(facts: YardFacts, setter: Typesetter) -> bytes:
    """Return the PDF of a yard's sheet: at the largest size at which it takes two pages.

    Sizes that by an estimate are too large are passed over; a sheet that takes more than two pages at the
    smallest size has more.
    """
    top = head(facts.plan, f"Yard {facts.yard_id}")
    layout = lay_out(facts)
    sheet = sheet_data(facts, layout)
    for size in sizes_from(sheet, top["page"][1]):
        sheet |= sized(facts, layout, size, len(sheet["plants"]))
        pdf = setter.pdf({**top, "sheets": [sheet]})
        if max(setter.ask("<pages>"), default=1) <= MOST_PAGES:
            break
    return pdf

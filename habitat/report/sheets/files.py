"""Yard sheets: one PDF per household, and all in street order for the print shop."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from pypdf import PdfWriter
from pypdf.generic import NameObject

from habitat.errors import NotFoundError
from habitat.progress import Progress
from habitat.report.jobs import Job, Shared
from habitat.report.plan import Plan
from habitat.report.sheets.data import MANY_PLANTS, Size, sheet_data, sized
from habitat.report.sheets.facts import FactFinder, YardFacts, street_order
from habitat.report.sheets.measures import lay_out
from habitat.report.typeset import Typesetter, head
from habitat.report.words.text import file_names

SIZES = (
    Size(8.0, 150.0, 84.0),
    Size(7.5, 128.0, 72.0),
    Size(7.2, 110.0, 62.0),
    Size(7.0, 96.0, 54.0),
    Size(7.0, 84.0, 48.0),
)
"""Sizes to try, largest first; nothing on a sheet is set smaller than 7 pt."""

MOST_PAGES = 2
FRAME_MM = 26.0
"""Margins above and below the text of a page [mm]."""

LETTER_MM2 = 2.75
"""Paper that a letter of 8 pt takes with its share of the leading and of lines not filled [mm2]."""

SLACK_MM = 29.0
"""What the estimate leaves out (broken rows, white at the foot of a page), from sheets of the demo [mm]."""

HEADING_MM = 5.5
COLUMN_MM = 186.0


def sizes_from(sheet: dict[str, Any], page_mm: float) -> tuple[Size, ...]:
    """Return the sizes that are worth trying: from the first that by the estimate fits two pages."""
    room = MOST_PAGES * (page_mm - FRAME_MM) - SLACK_MM
    first = next((k for k, size in enumerate(SIZES) if _height(sheet, size) <= room), len(SIZES) - 1)
    return SIZES[first:]


def _height(sheet: dict[str, Any], size: Size) -> float:
    """Return about how high a sheet is [mm], drawings at their most."""
    plants = len(sheet["plants"])
    table = 6.0 + plants * (5.0 if plants > MANY_PLANTS else 7.2)
    strip = 24.0 + 4.1 * len(sheet["year"]["butterflies"])
    layout = 12.0 + 3.3 * len(sheet["layout"]["rows"]) / 3
    sides = max((_text(side, size, COLUMN_MM / 2) for side in sheet["sides"]), default=0.0)
    text = _text(sheet["parts"], size, COLUMN_MM)
    return 42.0 + size.yard_mm * 0.9 + table + sides + size.beds_mm * 0.8 + layout + strip + text


def _text(parts: list[dict[str, Any]], size: Size, wide_mm: float) -> float:
    """Return about how high parts of text are [mm] at a width."""
    letters = sum(_letters(part["rows"]) for part in parts)
    lines = sum(len(part["rows"]) for part in parts)
    scale = (size.text_pt / 8.0) ** 2
    return (letters * LETTER_MM2 * scale + 60.0 * lines + HEADING_MM * len(parts) * COLUMN_MM / 2) / wide_mm


def _letters(value: Any) -> int:
    if isinstance(value, str):
        return len(value)
    return sum(_letters(v) for v in (value.values() if isinstance(value, dict) else value))


# Files for the print shop: many sheets in one PDF.


def merge_sheets(files: Sequence[Path], path: Path, title: str, date: dt.date | None) -> None:
    """Write PDFs one after the other into one file; what several of them hold alike is stored once.

    Parameters
    ----------
    files
        PDFs in the order of printing.
    path
        Where the merged file goes.
    title, date
        For the file's description; nothing in it depends on the clock. Tags for screen readers stay in the
        single sheets: the merged file is for paper.
    """
    writer = PdfWriter()
    for file in files:
        writer.append(str(file), import_outline=False)
    for page in writer.pages:
        page.pop(NameObject("/StructParents"), None)
    day = date or dt.date(2000, 1, 1)
    writer.metadata = {"/Title": title, "/CreationDate": f"D:{day:%Y%m%d}000000Z"}
    if files:
        writer.compress_identical_objects(remove_duplicates=True, remove_unreferenced=True)
    with path.open("wb") as out:
        writer.write(out)


# Yard sheets: one PDF per household, and all of them in street order for the print shop.

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
    shared = Shared(plan)
    jobs = sheet_jobs(shared, folder, yard_ids)
    files = []
    for done, job in enumerate(jobs):
        if progress is not None:
            progress("Setting yard sheets", done, len(jobs))
        files += job(shared)
    return [*files, *write_print_files(plan, folder, files)]


def sheet_jobs(shared: Shared, folder: Path, yard_ids: Iterable[str] | None = None) -> list[Job]:
    """Return a job for each yard's sheet, in street order; parameters and errors as ``write_sheets``."""
    folder.mkdir(parents=True, exist_ok=True)
    chosen = _chosen(shared.once(FactFinder), yard_ids)
    names = file_names(chosen, "yard-", ".pdf")
    ordered = street_order(shared.plan, chosen)
    return [partial(_write_sheet, yard_id=y, file=folder / names[y]) for y in ordered]


def _write_sheet(shared: Shared, yard_id: str, file: Path) -> list[Path]:
    file.write_bytes(set_sheet(shared.once(FactFinder).of(yard_id), shared.once(sheet_setter)))
    return [file]


def sheet_setter(plan: Plan) -> Typesetter:
    """Return the typesetter of yard sheets."""
    return Typesetter("sheet.typ", plan.study.study.date)


def write_print_files(plan: Plan, folder: Path, files: list[Path]) -> list[Path]:
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

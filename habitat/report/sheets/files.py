"""Yard sheets: one PDF per household, and all in street order for the print shop."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from pypdf import PdfWriter
from pypdf.generic import NameObject

from habitat.errors import NotFoundError
from habitat.progress import Progress
from habitat.report.jobs import Job, Shared
from habitat.report.plan import Plan
from habitat.report.sheets.beds import beds_height
from habitat.report.sheets.data import sheet_data, sized
from habitat.report.sheets.facts import FactFinder, YardFacts, street_order
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.room import LEAST_MM, rooms_left
from habitat.report.sheets.short import shortened
from habitat.report.typeset import MARGIN_MM, PAGE_MM, Typesetter, head
from habitat.report.words.numbers import Units
from habitat.report.words.text import file_names


@dataclass(frozen=True, slots=True)
class Size:
    """How large a page is set: its text [pt], and how high the drawings of beds are at least [mm]."""

    text_pt: float
    beds_mm: float


SIZES = (
    Size(11.0, 165.0),
    Size(10.5, 143.0),
    Size(10.0, 123.2),
    Size(9.5, 105.6),
    Size(9.0, 92.4),
    Size(8.5, 79.2),
    Size(8.0, 68.2),
)
"""Sizes to try for each page, largest first: smaller text where it would leave the beds less than that."""

STEPS = tuple(range(len(SIZES)))
TIGHT_MM = 8.0
"""So much less room have drawings on a page that ran over [mm]."""

SPARE_MM = 4.0
"""So much is left free at the foot of a page when its drawings are given the rest [mm]."""


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
    """Return the PDF of a yard's sheet: plan and plants, beds, the year, each on its page.

    Each page is set at the largest size at which it takes one page; what takes more at the smallest has more.
    Sizes and rooms are worked out first (``sheets.room``), so that most sheets are set once.
    """
    layout = lay_out(facts)
    sheet = sheet_data(facts, layout)
    top = head(facts.plan, sheet["title"])
    for _ in range(2):  # what is left out for want of words gives room
        fitted = _Fitted(facts, sheet)
        sheet |= sized(facts, layout, fitted.sizes_pt, fitted.rooms_mm)
        sheet = shortened(sheet, top)
    while True:
        sheet |= sized(facts, layout, fitted.sizes_pt, fitted.rooms_mm)
        pdf = setter.pdf({**top, "sheets": [sheet]})
        ends = setter.ask("<pages>")
        over = [k for k, end in enumerate(ends) if end - (ends[k - 1] if k else 0) > 1]
        tried = [fitted.tighten(k) for k in over]
        if not any(tried):
            break
    left = [0.0 if k in over else max(mm - SPARE_MM, 0.0) for k, mm in enumerate(setter.ask("<left>"))]
    rooms = sheet["room"] + left[0], sheet["beds"]["height"] + left[min(1, len(left) - 1)]
    larger = sized(facts, layout, fitted.sizes_pt, rooms)
    if over or all(larger[name]["scale"] == sheet[name]["scale"] for name in ("yard", "beds")):
        return pdf
    again = setter.pdf({**top, "sheets": [sheet | larger]})
    return pdf if setter.ask("<pages>") != ends else again


class _Fitted:
    """Sizes of the text of a sheet's pages, and room for its drawings, by what the text takes."""

    def __init__(self, facts: YardFacts, sheet: dict[str, Any]) -> None:
        wide, high = PAGE_MM[facts.plan.study.report.paper]
        self.page_mm, self.sheet = (wide - 2 * MARGIN_MM, high), sheet
        first = next((k for k in STEPS if self._room(0, k) >= LEAST_MM), STEPS[-1])
        layout, units = lay_out(facts), Units(facts.plan.study.report.units)
        heights = [beds_height(facts, layout, (self.page_mm[0], SIZES[k].beds_mm), units) for k in STEPS]
        second = next((k for k in STEPS if heights[k] <= self._room(1, k)), STEPS[-1])
        self.steps = [first, second, 0]
        self.less_mm = [0.0, 0.0]

    def _room(self, page: int, step: int) -> float:
        text_pt = SIZES[step].text_pt
        return rooms_left(self.sheet, (text_pt, text_pt), self.page_mm)[page]

    @property
    def sizes_pt(self) -> list[float]:
        """Sizes of the text of the three pages."""
        return [SIZES[k].text_pt for k in self.steps]

    @property
    def rooms_mm(self) -> tuple[float, float]:
        """How high the drawings of the first two pages may be."""
        first, second = (max(self._room(k, self.steps[k]) - self.less_mm[k], LEAST_MM) for k in (0, 1))
        return first, second

    def tighten(self, page: int) -> bool:
        """Give a page that runs over less drawing, then smaller text; return whether there was a way."""
        if page < len(self.less_mm) and not self.less_mm[page]:
            self.less_mm[page] = TIGHT_MM
        elif self.steps[page] == STEPS[-1]:
            return False
        else:
            self.steps[page] += 1
        return True

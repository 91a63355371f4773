"""Setting documents in PDF: the shipped templates and fonts, data as JSON, no system install, equal bytes."""

from __future__ import annotations

import datetime as dt
import json
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, Literal

import matplotlib as mpl
import typst

from habitat.report.plan import Plan
from habitat.report.words.months import date_words
from habitat.report.words.text import plain

PAGE_MM = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
MARGIN_MM = 13.0
KEPT, BLANKS = 12, 2
"""The typesetter keeps what some ten documents before were made of, megabytes for a yard sheet; so many empty
ones are set before each."""

AUDIENCE_SHORT = {"group": "For this household and the group only.", "public": "For everybody."}
"""On all pages but the first."""

AUDIENCE = {
    "group": "For this household and the group: please do not publish or pass on.",
    "public": "For everybody: only what households agreed to show.",
}


class Typesetter:
    """Sets one template again and again with different data.

    Fonts are the ones shipped with the project and, for scripts that those lack, those of matplotlib;
    system fonts are not looked at, so that a file looks alike on every machine. Text from data goes in as
    JSON and is never read as markup.
    """

    def __init__(self, template: str, date: dt.date | None) -> None:
        day = date or dt.date(2000, 1, 1)
        self.stamp = int(dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC).timestamp())
        self.fonts = Path(mpl.get_data_path()) / "fonts" / "ttf"
        with as_file(files("habitat.report") / "assets" / "blank.typ") as path:
            self.blank = typst.Compiler(str(path), root=str(path.parent), ignore_system_fonts=True)
        with as_file(files("habitat.report") / "assets" / template) as path:
            self.compiler = typst.Compiler(
                str(path),
                root=str(path.parent),
                font_paths=[str(path.parent), str(self.fonts)],
                ignore_system_fonts=True,
                sys_inputs={"data": "{}"},
            )

    def pdf(self, data: dict[str, Any]) -> bytes:
        """Return the document as PDF; nothing in it depends on the clock."""
        return bytes(self._set(data, "pdf"))

    def svg(self, data: dict[str, Any]) -> list[bytes]:
        """Return the pages of the document as SVG."""
        pages = self._set(data, "svg")
        return pages if isinstance(pages, list) else [bytes(pages)]

    def _set(self, data: dict[str, Any], kind: Literal["pdf", "svg"]) -> Any:
        self.forget(BLANKS)
        text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        return self.compiler.compile(format=kind, sys_inputs={"data": text}, timestamp=self.stamp)

    def forget(self, blanks: int = KEPT) -> None:
        """Let go of what documents set before were made of, by setting empty ones; of all of it if KEPT."""
        for _ in range(blanks):
            self.blank.compile(format="pdf")

    def ask(self, label: str) -> Any:
        """Return the value of a labelled metadata element of the document set last."""
        return json.loads(self.compiler.query(label, field="value", one=True))


def head(plan: Plan, title: str) -> dict[str, Any]:
    """Return what every document carries: page size, width of the text, study, date, audience, title."""
    study = plan.study
    wide, high = PAGE_MM[study.report.paper]
    date = study.study.date or dt.date(2000, 1, 1)
    return {
        "page": [wide, high],
        "width": wide - 2 * MARGIN_MM,
        "study": plain(study.study.name),
        "date": date_words(study.study.date),
        "ymd": [date.year, date.month, date.day],
        "audience": AUDIENCE[study.report.audience],
        "audience_short": AUDIENCE_SHORT[study.report.audience],
        "title": plain(title),
    }

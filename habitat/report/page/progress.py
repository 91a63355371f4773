"""One page: how the corridor has grown, season by season."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from habitat.planting.types import Milestone
from habitat.report.page import html
from habitat.report.plan import Plan
from habitat.report.words.numbers import Units, number
from habitat.report.words.text import plain

FIGURES = (
    ("asked", "yards that said yes or no"),
    ("joined", "yards that take part"),
    ("planted", "yards planted"),
    ("alive", "plants alive"),
    ("broods", "broods a year that can be fed today"),
    ("area_m2", "linked breeding ground today"),
    ("species", "kinds of butterflies seen"),
)
"""What is told of each season."""

WIDE, HIGH, BAR, UNDER = 320, 110, 34, 16
"""A chart's size, and that of a bar and of the line of dates below, in px."""

TITLE = "How the corridor has grown"


def write_progress(plan: Plan, path: Path) -> Path:
    """Write progress.html, for the group: it opens in any browser, without a network."""
    path.write_text(progress_page(plan), encoding="utf-8")
    return path


def progress_page(plan: Plan) -> str:
    """Return the page: a table of all seasons, and a chart of each figure."""
    history = () if plan.carried is None else plan.carried.history
    units = Units(plan.study.report.units)
    rows = [(words, *(_words(getattr(one, key), key, units) for one in history)) for key, words in FIGURES]
    dates = [one.date or "no date" for one in history]
    table = html.table(TITLE, ("figure", *dates), rows, numbers=range(1, len(dates) + 1))
    charts = "".join(_chart(words, key, history, units) for key, words in FIGURES)
    body = (
        f"<header><h1>{TITLE}</h1><p>{html.text(plan.study.study.name)}</p>"
        "<p class='audience'>For the group only: do not publish this page.</p></header><main>"
        f"{table}{charts}<p>Each column is a run; each run names the one before it by the hash of its "
        "run.json. Plants alive are those that season forms tell of. A figure that nobody has told is "
        "unknown, not zero.</p></main>"
    )
    return html.document(TITLE, body)


def _words(value: float | None, key: str, units: Units) -> str:
    if value is None:
        return "unknown"
    return units.area(float(value)) if key == "area_m2" else number(value, 0)


def _chart(title: str, key: str, history: Sequence[Milestone], units: Units) -> str:
    """Return bars of a figure over the seasons; where it is unknown there is a word and no bar."""
    values = [getattr(one, key) for one in history]
    most = max((v for v in values if v), default=0) or 1
    step = WIDE / max(len(values), 1)
    parts = []
    for k, (one, value) in enumerate(zip(history, values, strict=True)):
        left, middle = k * step + (step - BAR) / 2, k * step + step / 2
        tall = 0.0 if value is None else (HIGH - 2 * UNDER - 6) * value / most
        top = HIGH - UNDER - tall
        if value is not None:
            parts.append(
                f'<rect x="{left:.1f}" y="{top:.1f}" width="{BAR}" height="{tall:.1f}" fill="#1f4f8a"/>'
            )
        told = html.bare(_words(value, key, units))
        parts.append(f'<text x="{middle:.1f}" y="{top - 4:.1f}" text-anchor="middle">{told}</text>')
        when = html.bare(plain(one.date[:7]))
        parts.append(f'<text x="{middle:.1f}" y="{HIGH - 3}" text-anchor="middle">{when}</text>')
    words = ", ".join(f"{one.date}: {_words(v, key, units)}" for one, v in zip(history, values, strict=True))
    ground = HIGH - UNDER
    line = f'<line x1="0" x2="{WIDE}" y1="{ground}" y2="{ground}" stroke="#555"/>'
    return (
        f'<figure><figcaption>{html.text(title)}</figcaption><svg viewBox="0 0 {WIDE} {HIGH}" width="{WIDE}" '
        f'height="{HIGH}" role="img" aria-label="{html.attribute(f"{title}: {words}")}" font-size="11">'
        f"{line}{''.join(parts)}</svg></figure>"
    )

"""A page for one household, whole in one file and without a script, to be sent to it alone."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import Any

from habitat.report.jobs import Job, Shared
from habitat.report.lists.calendar import household_calendar
from habitat.report.page import html
from habitat.report.page.mine import CARD, mine_entry, planted_yards
from habitat.report.sheets.data import title_of
from habitat.report.sheets.drawing import Mark
from habitat.report.sheets.facts import FactFinder, YardFacts, addresses
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.walked import DRAFT, is_draft
from habitat.report.sheets.yard import yard_drawing
from habitat.report.words.months import month_words
from habitat.report.words.numbers import Units
from habitat.report.words.text import file_names, plain

ROOM_MM = (180.0, 150.0)
PAPER = "#fffdf7"
FILLS = {"building": "#cfcabb", "paving": "#e9e4d6", "water": "#a9cbdc", "bed": "#eef2d8", "trunk": "#5a5a52"}
"""Fills of marks; all others are open."""

CALL = "Before digging: the utility locating service, which marks buried lines (811 in the United States)."


def yard_page_jobs(shared: Shared, folder: Path) -> list[Job]:
    """Return a job for the page of each yard with plants, named by address and id: no two are alike.

    Beside it lies the calendar of a household that takes part.
    """
    folder.mkdir(parents=True, exist_ok=True)
    given = addresses(shared.plan)
    stems = {y: _stem(y, given.get(y, "")) for y in planted_yards(shared.plan)}
    names = file_names(stems.values(), "", ".html")
    return [partial(_write_page, yard_id=y, file=folder / names[stem]) for y, stem in stems.items()]


def _write_page(shared: Shared, yard_id: str, file: Path) -> list[Path]:
    facts = shared.once(FactFinder).of(yard_id)
    file.write_text(yard_page(facts, mine_entry(facts)), encoding="utf-8", newline="\n")
    notes = household_calendar(shared.plan, yard_id)
    if not notes:
        return [file]
    calendar = file.with_suffix(".ics")
    calendar.write_bytes(notes)
    return [file, calendar]


def _stem(yard_id: str, lived: str) -> str:
    address = re.sub(r"[^A-Za-z0-9]+", "-", plain(lived, 24)).strip("-")
    return f"{address}-{yard_id}" if address else yard_id


def yard_page(facts: YardFacts, mine: dict[str, Any]) -> str:
    """Return the page of a yard: drawing, plants, rules, the year, cost, whom to call, why."""
    contact = plain(facts.plan.study.study.contact, 200)
    parts = (
        ("What I plant", _plants(mine)),
        ("Five rules", _list(mine["rules"], "ol") + _small(mine["defer"]) + _list(mine["mind"])),
        ("When butterflies fly", _year(mine)),
        ("Care through the year", _list(f"{months}: {text}" for months, text in mine["care"])),
        ("What it costs", f"<p>All plants of this yard: {html.text(mine['cost'])}.</p>"),
        ("Whom to call", _list([CALL, f"Questions: {contact or 'the coordinator of your group'}."])),
        ("Why these plants", _list(f"{w['keys']}: {w['text']}" for w in mine["why"]) + _list(mine["chain"])),
        ("Not possible here", _list(mine["lacks"])),
        ("What is not known", _list(mine["unknown"])),
    )
    title = title_of(facts)
    body = "".join(f"<section><h2>{head}</h2>{inside}</section>" for head, inside in parts if inside)
    told = ", a draft until somebody has walked the yard" if is_draft(facts) else ""
    head = f"<header><h1>{html.text(title)}</h1>{_small(f'Yard {facts.yard_id}{told}')}</header>"
    return html.document(title, f"{head}<main>{_drawing(facts)}{_list(mine['beds'])}{body}</main>")


def _small(words: str) -> str:
    return f'<p class="small">{html.text(words)}</p>'


def _list(lines: Iterable[str], tag: str = "ul") -> str:
    items = "".join(f"<li>{html.text(line)}</li>" for line in lines)
    return f"<{tag}>{items}</{tag}>" if items else ""


def _plants(mine: dict[str, Any]) -> str:
    rows = []
    for card in mine["cards"]:
        told = dict(zip(CARD, card, strict=False))
        rows.append(
            (
                told["key"],
                f"{told['common']} ({told['scientific']})",
                f"{told['count']} {told['bought_as']}",
                told["beds"],
                f"{told['spacing']} apart, {told['height']} tall",
                " ".join((" and ".join(card[-1]), month_words(frozenset(card[-2]), short=True))).strip()
                or "–",
                told["feeds"],
            )
        )
    head = ("number", "plant", "how many", "bed", "size", "flowers", "feeds")
    return html.table("Plants by their number on the drawing", head, rows)


def _year(mine: dict[str, Any]) -> str:
    """Return when adults of each butterfly fly and caterpillars eat, by months."""

    def months(runs: list[list[int]]) -> str:
        held = frozenset(half // 2 + 1 for a, b in runs for half in range(a, b))
        return month_words(held, short=True) or "–"

    rows = [(name, months(adult), months(young), words) for name, adult, young, _, words, _ in mine["year"]]
    return html.table(
        "Butterflies and moths of this yard", ("butterfly", "flies", "caterpillars eat", "then"), rows
    )


def _drawing(facts: YardFacts) -> str:
    """Return the drawing of the yard's sheet as SVG, a millimetre a unit."""
    drawn = yard_drawing(facts, lay_out(facts), ROOM_MM, Units(facts.plan.study.report.units))
    marks = "".join(map(_mark, drawn["marks"]))
    marks = (_draft_mark(drawn["width"], drawn["height"]) if is_draft(facts) else "") + marks
    x = drawn["width"] + 6
    north = (
        f'<g transform="translate({x:.1f} 8) rotate({drawn["turn"]:.1f})" aria-hidden="true">'
        '<path d="M0-6L2 2L0 1L-2 2Z" fill="#22301f"/>'
        '<text y="6" font-size="3.5" text-anchor="middle" fill="#22301f">N</text></g>'
    )
    told = "Draft of the plan" if is_draft(facts) else "Plan"
    label = f"{told} of the yard, {drawn['scale']} on the printed sheet"
    return (
        f'<svg role="img" aria-label="{html.attribute(label)}" viewBox="-2 -2 {x + 10:.1f} '
        f'{drawn["height"] + 4:.1f}" style="background:{PAPER};max-width:48rem;width:100%">'
        f"{marks}{north}</svg>"
    )


def _draft_mark(wide: float, high: float) -> str:
    """Return the word across the drawing; it comes first, so that all lines lie over it."""
    x, y = wide / 2, high / 2
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{wide / 4:.1f}" font-weight="700" text-anchor="middle" '
        f'fill="#e2ded2" transform="rotate(-24 {x:.1f} {y:.1f})">{DRAFT}</text>'
    )


def _mark(mark: Mark) -> str:
    look = mark["look"]
    style = (
        f'fill="{FILLS.get(look, "none")}" stroke="#22301f" stroke-width="{0.5 if look == "bed" else 0.2}"'
    )
    if mark["kind"] == "area":
        rings = "".join("M" + "L".join(f"{x} {y}" for x, y in ring) + "Z" for ring in mark["rings"])
        return f'<path d="{rings}" fill-rule="evenodd" {style}/>'
    if mark["kind"] == "line":
        dash = ' stroke-dasharray="1 .8"' if look not in ("boundary", "tie") else ""
        return f'<path d="M{"L".join(f"{x} {y}" for x, y in mark["points"])}" {style}{dash}/>'
    x, y = mark["at"]
    if mark["kind"] == "circle":
        return f'<circle cx="{x}" cy="{y}" r="{mark["r"]}" {style}/>'
    bold = ' font-weight="700"' if look == "bed-number" else ""
    return (
        f'<text x="{x}" y="{y}" font-size="3" text-anchor="middle" dominant-baseline="central" '
        f'fill="#22301f" stroke="{PAPER}" stroke-width=".6" paint-order="stroke" '
        f'transform="rotate({mark["turn"]} {x} {y})"{bold}>{html.bare(mark["text"])}</text>'
    )

"""The page: one HTML file that opens offline, with the map, every yard's plan, the table and the calendar."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path
from string import Template
from typing import Any

from habitat.knowledge.place import outside_region
from habitat.report.package.read_me import AUDIENCE, CAUTIONS
from habitat.report.page import html
from habitat.report.page.corridor import corridor_tables
from habitat.report.page.data import STATES, apart, butterflies_of, common_name, embedded, page_data
from habitat.report.page.hurt import what_would_hurt
from habitat.report.page.kinds import kinds_section
from habitat.report.page.map import map_frame, map_svg
from habitat.report.page.year import year_tables
from habitat.report.plan import Plan
from habitat.report.rows import each_row
from habitat.report.sheets.facts import addresses
from habitat.report.teaching.kinds import served_kinds
from habitat.report.words.en import voice
from habitat.report.words.figures import gain_words
from habitat.report.words.months import date_words
from habitat.report.words.numbers import Units, cost_words, kept_words, money
from habitat.report.words.text import counted, plain

SCRIPTS = ("page_map.js", "page_yard.js", "page_table.js", "page_mine.js", "page.js")
STATE_WORDS = {
    "today": "today, as it stands",
    "members": "members' plans planted, and those invited below",
    "everyone": "everybody planted, members and candidates",
}
COLUMNS = (
    ("id", "yard", "text"),
    ("address", "address", "text"),
    ("role", "takes part", "text"),
    ("count", "plants", "num"),
    ("hosts", "host plants", "num"),
    ("nectar", "months with nectar", "num"),
    ("closed", "can breed here", "num"),
    ("here", "habitat for the butterfly [m²]", "num"),
    ("cost", "cost", "num"),
)
"""Key, heading and kind of the columns of the table of yards."""

NOT_SHOWN = (
    "Figures are those of the whole neighbourhood. Yards whose households did not agree to be "
    "shown, and the ways and steps that lead through them, are left out. Where fewer than three such yards "
    "add to a total, it is the total of the yards shown, and areas are rounded."
)

SECTIONS = (
    ("corridor", "Map"),
    ("yard", "One yard"),
    ("yards-title", "All yards"),
    ("ask", "Whom next"),
    ("year", "The year"),
    ("kinds", "Looks"),
)


def write_page(plan: Plan, path: Path) -> None:
    """Write the page; equal plans give equal bytes."""
    path.write_text(page_html(plan), encoding="utf-8", newline="\n")


def page_html(plan: Plan) -> str:
    """Return the page as text.

    Notes
    -----
    The file holds everything: a map as SVG, the data as JSON, our own script and style. What only an opened
    yard shows stands in an element of its own, which is text until somebody opens that yard. The content
    security policy lets nothing else run and nothing be fetched. All text from data is escaped here or set
    as text by the script, never as markup.
    """
    sheet = map_frame(plan)
    script = "".join(html.asset(name) for name in SCRIPTS)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    main = Template(html.asset("corridor.html")).substitute(
        _choices(plan),
        map=map_svg(plan, sheet),
        keys=html.asset("map_keys.html"),
        ratio=f"{sheet.width}/{sheet.height}",
        heads=_heads(plan),
        sections="".join(
            f'<li><a href="#{to}">{words}</a></li>'
            for to, words in SECTIONS
            if to != "kinds" or served_kinds(plan)
        ),
        whole=_whole(plan),
    )
    warned = [
        f"<p><strong>{html.text(words)}</strong></p>"
        for words in outside_region(plan.knowledge, plan.layers.yards)
    ]
    parts = [
        _header(plan),
        '<main id="main">',
        *warned,
        main,
        _invitations(plan),
        what_would_hurt(plan),
        _year(plan),
        kinds_section(plan),
        _made_of(plan),
        "</div>",
    ]
    body = "\n".join([*parts, "</main>", f'<footer><p class="mind">{CAUTIONS}</p></footer>'])
    whole, opened, texts = apart(page_data(plan, sheet))
    held: dict[str, Any] = {"plan-data": whole, "yard-texts": texts}
    held |= {f"yard-{k}": mine for k, mine in enumerate(opened) if mine}
    scripts = "".join(
        f'<script type="application/json" id="{name}">{embedded(data)}</script>\n'
        for name, data in held.items()
    )
    scripts += f"<script>{script}</script>\n"
    policy = f"; script-src 'sha256-{digest}'"
    return html.document(plan.study.study.name, body, scripts=scripts, policy=policy)


def _header(plan: Plan) -> str:
    """Return the title, for whom the page is, and the two tabs."""
    tabs = "".join(
        f'<li><a href="#{to}" data-tab="{tab}">{words}</a></li>'
        for to, tab, words in (("finder", "mine", "My yard"), ("group", "group", "The group"))
    )
    return (
        '<a class="skip" href="#main">Skip to the yards</a><header>'
        f'<h1>{html.text(plan.study.study.name)}</h1><nav class="tabs" aria-label="Parts of this page">'
        f'<ul>{tabs}</ul></nav><p class="audience">{AUDIENCE[plan.study.report.audience]}</p></header>'
    )


def _whole(plan: Plan) -> str:
    """Return what is planted in all, and the corridor's absolute figures."""
    counts, head = plan.headline["counts"], plan.study.study
    told = [
        date_words(head.date),
        counted(int(counts["yards"]), "yard"),
        f"{counts['members']} taking part",
        *_what_is_planted(plan),
    ]
    return f"<p>{'; '.join(told)}.</p>{corridor_tables(plan)}"


def _what_is_planted(plan: Plan) -> list[str]:
    """Return how much is planted and what it costs: for those who take part, and for all who could join."""
    head = plan.headline
    counts = head["counts"]
    kinds = f"{counted(int(counts['plants']), 'plant')} of {counts['plant_kinds']} kinds"
    currency = plan.study.planting.currency
    cost = html.text(f"cost {money(float(head['cost']), currency)}{_bought(plan)}")
    if counts["plants_of_members"] in (0, counts["plants"]):
        return [kinds, cost]
    mine = counted(int(counts["plants_of_members"]), "plant")
    paid = html.text(f"{mine} for them cost {money(float(head['cost_of_members']), currency)}{_bought(plan)}")
    return [paid, f"with all that could join {kinds}, cost {money(float(head['cost']))}"]


def _bought(plan: Plan) -> str:
    """Return what the group pays with the spares and full trays of the shopping list."""
    return f" ({money(float(plan.headline['cost_to_buy']))} with spares and full trays)"


def _choices(plan: Plan) -> dict[str, str]:
    """Return what can be chosen: the butterfly, what is planted, how many are invited."""
    names = [f"{common_name(plan, n)} ({n})" for n in butterflies_of(plan)]
    most = max(0, len(plan.invitation_steps) - 1)
    states = [
        f'<label><input type="radio" name="state" value="{s}"{" checked" if s == "members" else ""}> '
        f"{STATE_WORDS[s]}</label>"
        for s in STATES
    ]
    return {
        "options": "".join(f'<option value="{i}">{html.bare(n)}</option>' for i, n in enumerate(names)),
        "states": "".join(states),
        "most": str(most),
        "usable": "" if most else "disabled",
    }


def _heads(plan: Plan) -> str:
    known = "address" in plan.layers.yards and plan.layers.yards["address"].notna().any()
    said = {"cost": html.text(cost_words(plan.study.planting.currency))}
    return "".join(
        f'<th scope="col" class="{kind}" data-key="{key}" aria-sort="none"><button type="button">'
        f"{said.get(key, words)}"
        '<span aria-hidden="true" class="arrow"></span></button></th>'
        for key, words, kind in COLUMNS
        if known or key != "address"
    )


def _invitations(plan: Plan) -> str:
    draws, say = plan.study.connectivity.rank_draws, voice(plan.study.report)
    units, lived = Units(plan.study.report.units), addresses(plan)
    rows = [
        (
            f"{r.rank:.0f}",
            plain(f"{r.yard_id} {lived.get(str(r.yard_id), '')}", 90),
            say(r.reason),
            gain_words(r, units),
            kept_words(r, draws),
            money(float(r.cost)),
        )
        for r in each_row(plan.invitations)
    ]
    cost = cost_words(plan.study.planting.currency)
    head = ("order", "yard", "what is special about it", "adds", "how firm", cost)
    body = html.table("Whom to ask next, best first", head, rows, numbers=(5,)) if rows else ""
    said = "".join(f"<li>{html.text(say(s))}</li>" for s in plan.sentences)
    if plan.study.report.audience == "public":
        said += f"<li>{NOT_SHOWN}</li>"
    return (
        '<section aria-labelledby="ask"><h2 id="ask">Whom to ask next?</h2>'
        f"{f'<ul>{said}</ul>' if said else ''}{body or '<p>Nobody to ask yet.</p>'}</section>"
    )


def _year(plan: Plan) -> str:
    tables = year_tables(plan)
    return f'<section aria-labelledby="year"><h2 id="year">What happens when?</h2>{tables}</section>'


def _made_of(plan: Plan) -> str:
    say = voice(plan.study.report)
    notes = "".join(f"<li>{html.text(say(n))}</li>" for n in plan.notes)
    many = counted(len(plan.notes), "note")
    listed = f"<details><summary>{many}</summary><ul>{notes}</ul></details>" if notes else ""
    assessed = ", ".join(plain(a.replace("_", " ")) for a in plan.site.assessed) or "nothing"
    return (
        '<section aria-labelledby="made"><h2 id="made">What is this made from, and what is not known?</h2>'
        f"<p>Assessed: {assessed}. What was not assessed or is unknown is never counted as good. "
        "Figures of habitat are for the plan year of the study and rest on rules of thumb; use them to "
        f"compare, not as a promise.</p>{listed}</section>"
    )

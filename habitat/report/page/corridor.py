"""The corridor's absolute figures on the page: all butterflies together, and each."""

from __future__ import annotations

from typing import Any

from habitat.remarks import Remark
from habitat.report.page import html
from habitat.report.page.data import butterflies_of, common_name
from habitat.report.plan import Plan
from habitat.report.words.en import voice
from habitat.report.words.figures import EXPLAINED, FIGURES, STATES, figure_words
from habitat.report.words.numbers import UNKNOWN, Units

EACH = ("broods", "equivalent_area_m2", "groups", "colonisations", "capacity_m2")
WHERE = ("today", "members")


def corridor_tables(plan: Plan) -> str:
    """Return what may be compared between runs as tables, and why there is no share if there is none."""
    together = plan.headline.get("together") or {}
    units = Units(plan.study.report.units)
    states = [s for s in STATES if s in together and (s != "invited" or len(plan.invitations))]
    if not states:
        return ""
    rows = [
        (words, *(figure_words(together, s, figure, units) for s in states))
        for figure, words in FIGURES.items()
        if figure != "groups"
    ]
    whole = html.table(
        "What the ground holds, all butterflies together", ("", *(STATES[s] for s in states)), rows
    )
    return f"{whole}{_share(plan)}{_each(plan, units)}"


def _share(plan: Plan) -> str:
    """Return why there is no share of what could be, where there is none."""
    say = voice(plan.study.report)
    told = [say(s) for s in plan.sentences if isinstance(s, Remark) and s.kind.startswith("share_")]
    return "".join(f"<p>{html.text(words)}</p>" for words in told)


def _each(plan: Plan, units: Units) -> str:
    """Return a table of each butterfly, folded."""
    rows = [
        (common_name(plan, name), *(_both(plan.headline["butterflies"][name], f, units) for f in EACH))
        for name in butterflies_of(plan)
    ]
    head = ("butterfly", *(FIGURES[f] for f in EACH))
    table = html.table("Each butterfly, today and with the members' plans", head, rows)
    return f'<details><summary>Each butterfly</summary>{table}<p class="small">{EXPLAINED}</p></details>'


def _both(entry: dict[str, Any], figure: str, units: Units) -> str:
    """Return a figure today and with the members' plans."""
    one, two = (figure_words(entry, s, figure, units) for s in WHERE)
    return UNKNOWN if one == two == UNKNOWN else f"{one}; then {two}" if one != two else f"{one}, as today"

"""A comparison of two runs in words: lines for a terminal, a page for a browser."""

from __future__ import annotations

from typing import Any

from habitat.report.compare.to_do_words import to_do_lines, to_do_section
from habitat.report.page import html
from habitat.report.words.figures import FIGURES, STATES
from habitat.report.words.numbers import money, number
from habitat.report.words.text import counted, plain

TITLE = "Two runs compared"


def comparison_lines(result: dict[str, Any]) -> list[str]:
    """Return a comparison as lines of plain text."""
    runs = result["runs"]
    lines = [f"{_run(runs['before'])}  ->  {_run(runs['after'])}", ""]
    lines += [*to_do_lines(result["to_do"]), "What does the ground hold?"]
    for figure, pairs in result["together"].items():
        lines.append(f"  {NAMES[figure]}")
        lines += [f"    {STATES[s]}: {_figure(pair, figure)}" for s, pair in pairs.items()]
    lines += ["", "Butterflies, with the members' plans"]
    lines += [f"  {_name(row)}: {_of_butterfly(row)}" for row in result["butterflies"]]
    lines += ["", f"{_cost(result)}: {_money(result['cost'], NOT_TOLD)}"]
    lines.append(f"  of this for members: {_money(result['cost_of_members'], NOT_TOLD)}")
    counts = result["counts"].items()
    lines += [f"  {k.replace('_', ' ')}: {_numbers(p, missing=NOT_TOLD)}" for k, p in counts]
    lines += ["", f"{counted(len(result['yards']), 'yard')} changed, {result['yards_unchanged']} did not"]
    lines += [
        f"  {plain(r['yard_id'])}: {r['change']}; cost {_money(r['cost'])}" for r in result["yards"][:40]
    ]
    if len(result["yards"]) > 40:
        lines.append(f"  (and {len(result['yards']) - 40} more; --page lists them all)")
    lines += _made_from(result)
    return lines + [f"Mind: {r}" for r in result["remarks"]]


def _of_butterfly(row: dict[str, Any]) -> str:
    told = [f"{UNITS[f][1]} {_figure(row[f]['members'], f)}" for f in FIGURES]
    return "; ".join(told)


UNITS = {
    "broods": ("", "broods"),
    "equivalent_area_m2": ("m²", "linked ground"),
    "colonisations": ("", "females to an empty yard"),
    "groups": ("", "groups"),
    "capacity_m2": ("m²", "capacity to last"),
}
"""Unit and short name of each figure."""
NAMES = FIGURES | {"groups": "groups of breeding places, of the butterfly in most pieces"}


def _digits(figure: str) -> int:
    return 1 if figure == "colonisations" else 0


def _figure(pair: dict[str, Any], figure: str) -> str:
    one, two = _both(pair, lambda v: number(v, _digits(figure), UNITS[figure][0]), NOT_TOLD)
    return f"{one} -> {two}" if one != two else f"{one}, as before"


def _made_from(result: dict[str, Any]) -> list[str]:
    lines = []
    for key, words in (("settings", "Settings"), ("inputs", "Input files"), ("versions", "Versions")):
        if result[key]:
            lines += ["", f"{words} that differ"]
            lines += [f"  {plain(r['key'])}: {_values(r, key)}" for r in result[key]]
    return [*lines, ""]


def _values(row: dict[str, Any], kind: str) -> str:
    if kind == "inputs":
        if row["before"] is None or row["after"] is None:
            return "only in the second run" if row["before"] is None else "only in the first run"
        return "changed"
    return f"{_shown(row['before'])} -> {_shown(row['after'])}"


def _shown(value: Any) -> str:
    return "not set" if value is None else plain(value, 120) or "empty"


def comparison_page(result: dict[str, Any]) -> str:
    """Return a comparison as one HTML page."""
    runs = result["runs"]
    parts = [
        f"<header><h1>{TITLE}</h1>",
        f"<p>Before: {html.text(_run(runs['before']))}<br>After: {html.text(_run(runs['after']))}</p>",
        _audience(runs),
        "</header><main>",
        *(f'<p class="mind">{html.text(r)}</p>' for r in result["remarks"]),
        to_do_section(result["to_do"]),
        "<h2>What does the ground hold?</h2>",
        _together(result),
        _butterflies(result),
        "<h2>What does it cost?</h2>",
        _counts(result),
        "<h2>For whom does it change?</h2>",
        _yards(result),
        "<h2>What were the runs made from?</h2>",
        _differences(result),
        "</main>",
    ]
    return html.document(TITLE, "\n".join(parts))


def _audience(runs: dict[str, Any]) -> str:
    if all(run["audience"] == "public" for run in runs.values()):
        return "<p class='audience'>From runs for a public audience.</p>"
    return "<p class='audience'>For the group only: do not publish this page.</p>"


def _together(result: dict[str, Any]) -> str:
    rows = [
        (
            f"{NAMES[f]}, {STATES[s]}",
            *_both(pair, lambda v, f=f: number(v, _digits(f), UNITS[f][0]), NOT_TOLD),
        )
        for f, pairs in result["together"].items()
        for s, pair in pairs.items()
    ]
    head = ("all butterflies together", "before", "after")
    return html.table("All butterflies together", head, rows, numbers=(1, 2))


def _butterflies(result: dict[str, Any]) -> str:
    rows = [(_name(row), *(_figure(row[f]["members"], f) for f in FIGURES)) for row in result["butterflies"]]
    head = ("butterfly", *(NAMES[f] if f != "groups" else FIGURES[f] for f in FIGURES))
    return html.table("Butterflies, with the members' plans: before and after", head, rows)


def _counts(result: dict[str, Any]) -> str:
    rows = [(_cost(result), *_both(result["cost"], money, NOT_TOLD))]
    rows.append(("of this for members", *_both(result["cost_of_members"], money, NOT_TOLD)))
    counts = result["counts"].items()
    rows += [(k.replace("_", " "), *_both(p, lambda v: number(v, 0), NOT_TOLD)) for k, p in counts]
    return html.table("Cost and counts", ("figure", "before", "after"), rows, numbers=(1, 2))


def _yards(result: dict[str, Any]) -> str:
    told = f"<p>{counted(len(result['yards']), 'yard')} changed, {result['yards_unchanged']} did not.</p>"
    rows = [
        (
            r["yard_id"],
            r["change"],
            *_both(r["count"], lambda v: number(v, 0)),
            *_both(r["cost"], money),
            *_both(r["life_cycles_closed"], lambda v: number(v, 0)),
            ", ".join(r["plants_new"]),
            ", ".join(r["plants_gone"]),
        )
        for r in result["yards"]
    ]
    sides = [f"{what} {when}" for what in ("plants", "cost", "life cycles") for when in ("before", "after")]
    head = ("yard", "what changed", *sides, "plants new", "plants gone")
    return told + (html.table("Yards that changed", head, rows, numbers=range(2, 8)) if rows else "")


def _differences(result: dict[str, Any]) -> str:
    parts = []
    for key, words in (("settings", "Settings"), ("inputs", "Input files"), ("versions", "Versions")):
        rows = [(r["key"], _values(r, key)) for r in result[key]]
        parts.append(
            html.table(f"{words} that differ", ("what", "before and after"), rows)
            if rows
            else f"<p>{words}: no difference.</p>"
        )
    return "".join(parts)


def _run(run: dict[str, Any]) -> str:
    return f"{plain(run['study'] or 'a study without a name')}, {run['date'] or 'no date'}"


def _name(row: dict[str, Any]) -> str:
    common = plain(row["common_name"])
    return f"{common} ({plain(row['butterfly'])})" if common else plain(row["butterfly"])


NOT_TOLD = "not told"
"""What a run of an earlier version does not say of itself."""


def _both(pair: dict[str, Any], words: Any, missing: str = "none") -> tuple[str, str]:
    one, two = (missing if pair[s] is None else str(words(pair[s])) for s in ("before", "after"))
    return one, two


def _numbers(pair: dict[str, Any], unit: str = "", missing: str = "none") -> str:
    one, two = _both(pair, lambda v: number(v, 0, unit), missing)
    return f"{one} -> {two}" if one != two else f"{one}, as before"


def _money(pair: dict[str, Any], missing: str = "none") -> str:
    one, two = _both(pair, money, missing)
    return f"{one} -> {two}" if one != two else f"{one}, as before"


def _cost(result: dict[str, Any]) -> str:
    """Return the heading of what both runs cost; two currencies are told, not compared."""
    one, two = (plain(result["currency"][side] or "", 20) for side in ("before", "after"))
    if one == two:
        return f"Cost in {one}" if one else "Cost"
    return f"Cost, before in {one or 'an unnamed currency'}, after in {two or 'an unnamed currency'}"

"""What a coordinator must do, in words: lines for a terminal, a section of a page."""

from __future__ import annotations

from typing import Any

from habitat.report.page import html
from habitat.report.words.text import counted, listed, plain

SHOWN = 40


def to_do_lines(found: dict[str, Any] | None) -> list[str]:
    """Return what there is to do as lines of plain text; none for runs for the public."""
    if found is None:
        return []
    lines = ["What is to be done?"]
    lines += [f"  {line}" for line in _heads(found)]
    sheets = [f"    {_whose(row)}: {row['why']}" for row in found["hand_out"]]
    return [*_cut(lines + sheets), *_cut([f"    {_more(row)}" for row in found["buy"]]), ""]


def to_do_section(found: dict[str, Any] | None) -> str:
    """Return what there is to do as a section of a page; empty for runs for the public."""
    if found is None:
        return ""
    told = "".join(f"<li>{html.text(line)}</li>" for line in _heads(found))
    sheets = [(r["yard_id"], r["address"], r["why"]) for r in found["hand_out"]]
    bought = [(r["common_name"], r["plant"], r["form"], f"{r['more']:+d}") for r in found["buy"]]
    parts = [f"<h2>What is to be done?</h2><ul>{told}</ul>"]
    if sheets:
        parts.append(html.table("Sheets to hand out", ("yard", "address", "why"), sheets))
    if bought:
        head = ("plant", "scientific name", "form", "more than before, spares not counted")
        parts.append(html.table("What to buy beyond what was asked for before", head, bought, numbers=(3,)))
    return "".join(parts)


def _heads(found: dict[str, Any]) -> list[str]:
    """Return a sentence for each thing to do, the most pressing first."""
    lines = []
    many = len(found["hand_out"])
    lines.append(f"Hand out {counted(many, 'sheet')}." if many else "No sheet needs to be handed out anew.")
    if found["take_back"]:
        whose = listed([f"{_whose(row)} ({row['why']})" for row in found["take_back"]])
        lines.append(f"Plans that are no more: {whose}.")
    more = sum(max(0, row["more"]) for row in found["buy"])
    fewer = -sum(min(0, row["more"]) for row in found["buy"])
    if more or fewer:
        less = f", and {counted(fewer, 'plant')} fewer of others" if fewer else ""
        lines.append(f"Buy {counted(more, 'plant')} more than was asked for before{less}.")
    else:
        lines.append("Nothing more is to be bought.")
    for word in dict.fromkeys(row["after"] for row in found["statuses"]):
        yards = [plain(row["yard_id"]) for row in found["statuses"] if row["after"] == word]
        shown = [*yards[:8], *([f"{len(yards) - 8} more"] if len(yards) > 8 else [])]
        lines.append(f"Became {word}: {listed(shown)}.")
    counts = found["counts"]["after"]
    if counts:
        lines.append("Plans now: " + ", ".join(f"{n} {word}" for word, n in counts.items()) + ".")
    ages = found["living"]["after"]
    if ages:
        told = listed([f"{n:,} in season {age}" for age, n in ages.items()])
        lines.append(f"Plants that live: {told}; before {sum(found['living']['before'].values()):,} in all.")
    if not found["follows"]:
        lines.append("Mind: the second run does not name the first as the one before it.")
    return lines


def _whose(row: dict[str, Any]) -> str:
    lived = f", {plain(row['address'], 60)}" if row["address"] else ""
    return f"yard {plain(row['yard_id'])}{lived}"


def _more(row: dict[str, Any]) -> str:
    known = plain(row["common_name"], 60)
    name = f"{known} ({plain(row['plant'], 60)})" if known else plain(row["plant"], 60)
    return f"{row['more']:+d} {name}, {plain(row['form'], 20)}"


def _cut(lines: list[str]) -> list[str]:
    if len(lines) <= SHOWN:
        return lines
    return [*lines[:SHOWN], f"    (and {len(lines) - SHOWN} more; --page lists them all)"]

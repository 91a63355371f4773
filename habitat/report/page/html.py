"""Pieces of HTML that the pages share: text made safe, tables, the shell with its style."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Sequence
from importlib.resources import files
from typing import Any

from habitat.report.words.text import plain

LONGEST = 400
WIDE = 4
"""A table of more columns than this is scrolled sideways on a phone."""


def text(value: object) -> str:
    """Return text from data as HTML text: one line, markup characters escaped, direction kept to itself.

    Examples
    --------
    >>> text("<script>"), text("plain words")
    ('<bdi>&lt;script&gt;</bdi>', 'plain words')
    """
    cleaned = plain(value, LONGEST)
    escaped = html.escape(cleaned)
    return escaped if re.fullmatch(r"[A-Za-z0-9 .,;:'()%²/–+-]*", cleaned) else f"<bdi>{escaped}</bdi>"


def bare(value: object) -> str:
    """Return text from data where no markup at all may stand, such as in an option or an SVG text."""
    return html.escape(plain(value, LONGEST))


def attribute(value: object) -> str:
    """Return text from data for an attribute between double quotes."""
    return html.escape(plain(value, LONGEST), quote=True)


def asset(name: str) -> str:
    """Return a file of ``assets`` as text."""
    return (files("habitat.report") / "assets" / name).read_text(encoding="utf-8")


def table(
    caption: str, head: Sequence[str], rows: Iterable[Sequence[Any]], *, numbers: Sequence[int] = ()
) -> str:
    """Return a table with a caption; cells are text from data, the first of each row is its heading.

    Parameters
    ----------
    numbers
        Columns that are set flush right.
    """
    mark = dict.fromkeys(numbers, ' class="num"')
    heads = "".join(f'<th scope="col"{mark.get(i, "")}>{text(h)}</th>' for i, h in enumerate(head))
    body = []
    for row in rows:
        first, *others = row
        cells = "".join(f"<td{mark.get(i, '')}>{text(c)}</td>" for i, c in enumerate(others, 1))
        body.append(f'<tr><th scope="row">{text(first)}</th>{cells}</tr>')
    wide = ' class="wide"' if len(head) > WIDE else ""
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{attribute(caption)}"><table{wide}>'
        f"<caption>{text(caption)}</caption><thead><tr>{heads}</tr></thead><tbody>{''.join(body)}</tbody></table></div>"
    )


def document(title: str, body: str, *, scripts: str = "", policy: str = "", style: str = "") -> str:
    """Return a whole page; nothing in it can reach the network (content security policy)."""
    rules = f"default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'{policy}"
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{html.escape(rules)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{bare(title)}</title>\n<style>\n{asset('page.css')}{style}</style>\n</head>\n"
        f"<body>\n{body}\n{scripts}</body>\n</html>\n"
    )

"""What the commands print: progress, tables that break no word, JSON for programs."""

from __future__ import annotations

import json
import math
import os
import re
import shlex
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    SpinnerColumn,
    TextColumn,
    TimeElapsedColumn,
)
from rich.table import Table
from rich.text import Text

out = Console()
err = Console(stderr=True)


CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Characters that a terminal obeys instead of showing: C0 without tab and line feed, DEL, C1, and marks that
turn the direction of writing (Unicode Standard Annex 9)."""


def harmless(text: str) -> str:
    r"""Return text whose control characters are shown, not obeyed: text from data may hold any.

    Examples
    --------
    >>> print(harmless("oak\x1b[2J"))
    oak\x1b[2J
    """
    return CONTROL.sub(_shown, text)


def _shown(found: re.Match[str]) -> str:
    code = ord(found[0])
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


def say(line: str, console: Console | None = None) -> None:
    """Print a line as it is: no markup, no colours, no line breaks of our own."""
    (console or out).print(harmless(line), highlight=False, markup=False, soft_wrap=True)


def shown_path(path: str | Path) -> str:
    """Return a path as it must be typed: in quotes where it holds blanks or other signs of the shell.

    On Windows in double quotes, which cmd and PowerShell both take; where it holds what PowerShell fills in
    within these ($ and `), in single ones.
    """
    text = str(path)
    if os.name != "nt":
        return shlex.quote(text)
    if re.fullmatch(r"[\w.:\\/~+-]+", text):
        return text
    if re.search("[$`]", text):
        return "'" + text.replace("'", "''") + "'"
    ends = text[len(text.rstrip("\\")) :]  # a backslash before the last quote would take its meaning
    return '"' + text.replace('"', '""') + ends + '"'


def shown_command(arguments: Iterable[str]) -> str:
    """Return a call of habitat as it must be typed.

    Examples
    --------
    >>> shown_command(["check", "our street/study.toml"])
    "habitat check 'our street/study.toml'"
    """
    return " ".join(["habitat", *map(shown_path, arguments)])


@contextmanager
def progress_lines(quiet: bool) -> Iterator[Callable[[str, int, int], None] | None]:
    """Give a progress callback: one bar on a terminal, plain lines elsewhere, nothing if quiet.

    The bar is a single line that says what is being done, and goes when all is done.
    """
    if quiet:
        yield None
    elif err.is_terminal:
        columns = (SpinnerColumn(), TextColumn("{task.description}"), BarColumn(20), MofNCompleteColumn())
        with Progress(*columns, TimeElapsedColumn(), console=err, transient=True) as bars:
            task = bars.add_task("", total=1)

            def bar(stage: str, done: int, total: int) -> None:
                if total:
                    bars.update(task, description=escape(harmless(stage)), completed=done, total=total)
                else:
                    say(stage, err)

            yield bar
    else:
        told: dict[str, int] = {}

        def line(stage: str, done: int, total: int) -> None:
            tenth = 10 * done // max(total, 1)
            if stage not in told or (tenth > told[stage] and (total >= 50 or done == total)):
                told[stage] = tenth
                say(f"{stage}: {done} of {total}" if total > 1 else stage, err)

        yield line


def print_rows(title: str, rows: list[dict[str, Any]], console: Console | None = None) -> None:
    """Print rows as a table, or in sentences where the window is too narrow for one.

    No word is broken unless it is longer than the window, and text from data is never read as markup.
    """
    console = console or out
    if not rows:
        console.print(f"{harmless(title)}: none", highlight=False, markup=False)
        return
    shown = [name for name in rows[0] if any(row[name] not in (None, "") for row in rows)]
    heads = [name.replace("_", " ") for name in shown]
    cells = [[cell_words(row[name]) for name in shown] for row in rows]
    widths = column_widths(heads, cells, console.width - 2 * len(shown) - 1)
    if widths is None:
        _print_records(console, title, heads, cells)
        return
    console.print(harmless(title), style="italic", highlight=False, markup=False)  # as wide as the window
    table = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0))
    for k, (head, width) in enumerate(zip(heads, widths, strict=True)):
        figures = all(re.fullmatch(r"[\d,.]*", row[k]) for row in cells)
        table.add_column(head, width=width, overflow="fold", justify="right" if figures else "left")
    for row in cells:
        table.add_row(*map(Text, row))
    console.print(table, markup=False)


def column_widths(heads: list[str], cells: list[list[str]], room: int) -> list[int] | None:
    """Return widths of columns that fit a room and hold each word whole, or None where none do.

    Examples
    --------
    >>> column_widths(["plant", "note"], [["swamp milkweed", "wet ground"]], 18)
    [10, 8]
    >>> column_widths(["plant", "note"], [["swamp milkweed", "wet ground"]], 12)
    """
    columns = [[head, *(row[k] for row in cells)] for k, head in enumerate(heads)]
    widths = [max(map(len, column)) for column in columns]
    least = [max((len(w) for text in column for w in text.split()), default=1) for column in columns]
    if sum(least) > room:
        return None
    while sum(widths) > room:
        widest = max(range(len(widths)), key=lambda k: widths[k] - least[k])
        widths[widest] -= 1
    return widths


def _print_records(console: Console, title: str, heads: list[str], cells: list[list[str]]) -> None:
    """Print a row as its first cell and, indented below, what the others say."""
    console.print(harmless(title), highlight=False, markup=False)
    for first, *rest in cells:
        told = "; ".join(f"{head}: {cell}" for head, cell in zip(heads[1:], rest, strict=True) if cell)
        console.print(Text(first, style="bold"), Padding(Text(told), (0, 0, 0, 2)), sep="\n")


def score_bar(score: float | None) -> str:
    """Return a score from 0 to 1 as a bar of ten blocks; "" where there is none.

    Examples
    --------
    >>> score_bar(0.36), score_bar(None)
    ('████······', '')
    """
    if score is None or math.isnan(score):
        return ""
    blocks = min(10, math.ceil(score * 10))
    return "█" * blocks + "·" * (10 - blocks)


def score_words(score: float | None) -> str:
    """Return a score from 0 to 1 to two places; "" where there is none.

    Examples
    --------
    >>> score_words(0.364), score_words(float("nan"))
    ('0.36', '')
    """
    return "" if score is None or math.isnan(score) else f"{score:.2f}"


def cell_words(value: Any) -> str:
    """Return a value as a cell of a table: yes or no, unknown, words of a list apart.

    Examples
    --------
    >>> cell_words(True), cell_words(None), cell_words(0.25), cell_words("seed;plug")
    ('yes', 'unknown', '0.25', 'seed; plug')
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return "unknown"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    return harmless("; ".join(part.strip() for part in str(value).split(";")))


def print_json(result: Any) -> None:
    """Print JSON to standard output; what is not a number or unknown becomes null.

    What a terminal would obey stands as escapes of JSON (RFC 8259, section 7).
    """
    text = json.dumps(_plain(result), ensure_ascii=False, indent=1, allow_nan=False)
    sys.stdout.write(CONTROL.sub(lambda found: f"\\u{ord(found[0]):04x}", text) + "\n")


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [_plain(v) for v in value]
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    return str(value)

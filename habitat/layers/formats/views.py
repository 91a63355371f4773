"""Views of databases: tried within bounds before the format library runs them, since a view is a program."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from habitat.errors import LayerError

STEPS, MOST_STEPS = 100_000, 50_000_000
"""Steps of the database's own machine: how often it is asked, and how many a view may take (some seconds)."""

MOST_ROWS, MOST_BYTES = 2_000_000, 500_000_000
LONGEST = 16_000_000
"""Rows and bytes that a view may give, and bytes that one of its cells may hold."""


def refuse_endless_views(path: Path, shown: str) -> None:
    """Refuse a GeoPackage with a view that does not end, or gives without bound.

    Raises
    ------
    LayerError
        If its views take more steps, rows or bytes than the bounds above.
    """
    layer = ""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as base:
            base.text_factory = lambda text: text.decode("utf-8", "replace")
            base.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST)
            left = [MOST_STEPS // STEPS]
            base.set_progress_handler(lambda: _out_of(left), STEPS)
            views = base.execute("SELECT name FROM sqlite_master WHERE type = 'view' LIMIT 1000").fetchall()
            for (name,) in views:
                layer = str(name)
                quoted = layer.replace('"', '""')
                _try(base.execute(f'SELECT * FROM "{quoted}"'))
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:  # messages quote what is damaged
        if layer:
            what = "it takes too long" if "interrupted" in str(error) else str(error)
            raise _refused(layer, what, shown) from None  # else the library says what is wrong with the file
    except _TooMuchError as error:
        raise _refused(layer, str(error), shown) from None


class _TooMuchError(Exception):
    """A view gives more than the bounds."""


def _out_of(left: list[int]) -> int:
    left[0] -= 1
    return int(left[0] < 0)


def _try(rows: sqlite3.Cursor) -> None:
    size = 0
    for count, row in enumerate(rows, 1):
        size += sum(len(cell) if isinstance(cell, str | bytes) else 8 for cell in row)
        if count > MOST_ROWS or size > MOST_BYTES:
            raise _TooMuchError(f"it gives more than {MOST_ROWS:,} rows or {MOST_BYTES / 1e6:,.0f} MB")


def _refused(layer: str, what: str, shown: str) -> LayerError:
    return LayerError(
        f"the view {layer!r} cannot be read within bounds ({what})",
        shown,
        "Save what it shows as a layer of its own, and name that",
    )

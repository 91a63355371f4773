"""Blank own tables for another region, written by ``habitat new``."""

from __future__ import annotations

from habitat.knowledge.columns import Column
from habitat.knowledge.schema import FILES, SCHEMAS, schema_of

ABOUT = """\
Own tables for a region of your own, or to correct single values of ours

1. Name the tables you use in study.toml:
     [knowledge]
     region = "my-region"            # rows of our tables for other regions are then left out
     plants = "own_tables/plants.csv"
   Your rows count for your region, but for those that name another one in the column region.
   With region left as it is, our tables stay and yours are laid over them.
2. A row whose first column is in our table replaces only the cells that you fill; any other row is added,
   and must then be complete. In hosts.csv use = none takes a host of ours away.
3. Say where each row comes from in the column source; leave it blank and it counts as your own word.
   Write a published value only with its source; what you know by heart is "memory".
4. A new region needs at least plants, butterflies and hosts. Then: habitat check study.toml
   Every fault is listed at once, with file, row, column and rule.
5. Months are 1 to 12; a range may go over the turn of the year (11 to 2). Lists have ; between.

Columns, * = must be filled in a new row:
"""


def region_template() -> dict[str, str]:
    """Return blank tables and a page that explains every column, by name of file."""
    tables = {FILES[name]: ",".join(schema_of(name).columns) + "\n" for name in SCHEMAS}
    return tables | {"READ_ME.txt": ABOUT + "\n".join(_table_lines()) + "\n"}


def _table_lines() -> list[str]:
    lines = []
    for name in SCHEMAS:
        schema = schema_of(name)
        lines.append(f"\n{FILES[name]}  (knowledge.{name}; a row is known by {' and '.join(schema.key)})")
        lines += [
            f"  {'*' if not c.blank else ' '} {n}: {_column_words(c)}" for n, c in schema.columns.items()
        ]
        lines += [f"    {' <= '.join(group)}" for group in schema.rising]
    return lines


def _column_words(column: Column) -> str:
    if column.choices:
        between = " ; " if column.kind == "list" else " | "
        return f"{column.kind}: {between.join(column.choices)}"
    bounds = f" from {column.low:g} to {column.high:g}" if column.high < float("inf") else ""
    words = {"flag": "true or false", "integer": "whole number"}.get(column.kind, column.kind)
    return f"{words}{bounds}{f' [{column.unit}]' if column.unit else ''}"

"""Rows of tables for the writers, as plain values."""

from __future__ import annotations

from typing import Any

import pandas as pd


def each_row(frame: pd.DataFrame) -> list[Any]:
    """Return the rows of a table as named tuples, in order."""
    return list(frame.itertuples())


def row_of(frame: pd.DataFrame, key: str) -> Any:
    """Return the row of a table by its index as a Series, the first where several share it."""
    found = frame.loc[[key]]
    return found.iloc[0]

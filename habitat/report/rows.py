"""Rows of tables for the writers, as plain values."""

from __future__ import annotations

import functools
from collections import namedtuple
from typing import Any

import numpy as np
import pandas as pd


def each_row(frame: pd.DataFrame) -> list[Any]:
    """Return the rows of a table as named tuples, in order."""
    kind = _row_type(tuple(frame.columns))
    return list(map(kind._make, zip(*(frame[name].tolist() for name in frame.columns), strict=True)))


@functools.lru_cache(maxsize=256)
def _row_type(columns: tuple[str, ...]) -> Any:
    return namedtuple("Row", columns, rename=True)


def row_of(frame: pd.DataFrame, key: str) -> Any:
    """Return the row of a table by its index as a Series, the first where several share it."""
    at = np.flatnonzero(frame.index == key)
    if not len(at):
        raise KeyError(key)
    return frame.iloc[at[0]]

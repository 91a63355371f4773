"""Which yards the group may ask at all, by what columns of the parcels say."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from habitat.arrays import Flags
from habitat.errors import StudyError
from habitat.study.model import Study


def where_allows(yards: gpd.GeoDataFrame, study: Study) -> Flags:
    """Return (yards,) which yards pass ``connectivity.where``, ``where_least`` and ``where_most``.

    Words are compared without regard to case and blanks around them; a number equals the word that it is
    written as. Where a parcel says nothing in a column that is asked for, the yard does not pass.

    Raises
    ------
    StudyError
        If the parcels have no such column, or one that is to have a least or a most holds no number at all.
    """
    settings = study.connectivity
    out = np.ones(len(yards), np.bool_)
    for name, words in settings.where.items():
        column = _column(yards, name, "where", study)
        wanted = {_word(w) for w in words}
        out &= np.array([_word(v) in wanted if pd.notna(v) else False for v in column], np.bool_)
    for key, limits, sign in (
        ("where_least", settings.where_least, 1),
        ("where_most", settings.where_most, -1),
    ):
        for name, limit in limits.items():
            column = _column(yards, name, key, study)
            numbers = pd.to_numeric(column, errors="coerce").to_numpy(float)
            if len(numbers) and not np.isfinite(numbers).any():
                what = f"connectivity.{key} names the column {name!r} of the parcels, which holds no number"
                raise StudyError(what, str(study.path), "Name a column of numbers, or use connectivity.where")
            out &= sign * numbers >= sign * limit
    return out


def _column(yards: gpd.GeoDataFrame, name: str, key: str, study: Study) -> pd.Series[str]:
    """Return a column of the parcels by its heading, large and small letters alike."""
    named = {str(c).casefold(): str(c) for c in reversed(yards.columns) if c != "geometry"}
    if name in yards.columns and name != "geometry":
        return yards[name]
    if name.casefold() not in named:
        raise StudyError(
            f"connectivity.{key} names the column {name!r}, which the parcels do not have",
            str(study.path),
            f"Columns: {', '.join(list(named.values())[:30])}",
        )
    return yards[named[name.casefold()]]


def _word(value: object) -> str:
    """Return a cell as a word to compare: 2.0 is "2"."""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return str(value).strip().casefold()

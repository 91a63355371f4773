"""Soil tests in people's own words: brought to the classes and numbers that tests are read in, and told."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import pandas as pd

from habitat.errors import ParameterError
from habitat.factors.classes import DRAINAGE, TEXTURES
from habitat.factors.said import Understood, read_hours, read_reaction, read_soil, read_wetness
from habitat.layers.cells import values
from habitat.layers.formats.raw import Draft

CLASSES: dict[str, tuple[Callable[[str], Understood], tuple[str, ...]]] = {
    "texture": (read_soil, TEXTURES),
    "drainage": (read_wetness, DRAINAGE),
}
NUMBERS: dict[str, Callable[[str], Understood]] = {"ph": read_reaction, "sun_h": read_hours}


def numbers_in_words(draft: Draft, name: str) -> None:
    """Bring words and ranges of a column of numbers to numbers, in place; what is not understood stays."""
    read = NUMBERS.get(name) if draft.name == "soil_tests" else None
    if read is None or pd.api.types.is_numeric_dtype(draft.table[name].dtype):
        return
    _bring(draft, name, lambda said: _plainly(said, draft), read, lambda value: f"{value:g}")


def classes_in_words(draft: Draft) -> None:
    """Bring everyday words for texture and drainage to the survey's classes, in place."""
    for name, (read, classes) in CLASSES.items():
        if draft.name == "soil_tests" and name in draft.table:
            _bring(draft, name, partial(_is_class, classes), read, partial(_class_of, classes))


def _is_class(classes: Sequence[str], said: str) -> bool:
    return said.strip().isdigit() or said.casefold() in {one.casefold() for one in classes}


def _class_of(classes: Sequence[str], number: float) -> str:
    return classes[int(number) - 1]


def _plainly(said: str, draft: Draft) -> bool:
    return not math.isnan(values.number(said, decimal_comma=draft.decimal_comma))


def _bring(
    draft: Draft,
    name: str,
    is_plain: Callable[[str], bool],
    read: Callable[[str], Understood],
    words: Callable[[float], str],
) -> None:
    out: list[Any] = list(draft.table[name])
    for place, (row, value) in enumerate(draft.items(name)):
        if values.is_missing(value) or not isinstance(value, str) or is_plain(value):
            continue
        try:
            found = read(value)
        except ParameterError:
            continue  # told where tests are read
        out[place] = None if found.value is None else words(found.value)
        taken = f"taken as {out[place]}" if found.value is not None else "not known from that"
        draft.tell(f"{name} {value!r} is {taken}", row)
    draft.table[name] = pd.Series(out, index=draft.table.index, dtype=object)

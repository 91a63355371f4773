"""A column of a table: its kind, its unit and its range, and the check of one cell."""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["text", "number", "integer", "flag", "choice", "list", "names", "windows", "spans"]
"""A list has words of ``choices``, names are any words with ``;`` between, windows are half-months such as
``05a-06b``, spans whole numbers such as ``1-3``."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its kind, unit, what is allowed in it, whether it may be blank and what that stands for."""

    kind: Kind = "text"
    unit: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    choices: tuple[str, ...] = ()
    blank: bool = False
    default: str = ""

    def fault(self, text: str) -> str:
        """Return the rule that a cell breaks, or "" if it is right; blank cells are judged elsewhere."""
        if self.kind in ("text", "names"):
            return ""
        if self.kind in ("windows", "spans"):
            return _range_fault(self.kind, text)
        if self.kind == "flag":
            return "" if text.lower() in ("true", "false", "yes", "no") else "must be true or false"
        if self.kind in ("choice", "list"):
            parts = split_list(text) if self.kind == "list" else [text]
            wrong = [p for p in parts if p not in self.choices]
            return _not_among(wrong[0], self.choices) if wrong else ""
        value = to_number(text)
        if value is None:
            return f"must be a number, not {text!r}"
        if self.kind == "integer" and value != int(value):
            return f"must be a whole number, not {text!r}"
        if not self.low <= value <= self.high:
            unit = f" {self.unit}" if self.unit else ""
            return f"must lie between {self.low:g} and {self.high:g}{unit}, not {text}"
        return ""


@dataclass(frozen=True, slots=True)
class Schema:
    """One table: its key, its columns, groups of columns that must not fall, pairs of months."""

    key: tuple[str, ...]
    columns: dict[str, Column]
    rising: tuple[tuple[str, ...], ...] = ()
    together: tuple[tuple[str, ...], ...] = field(default=())


_RANGES = {
    "windows": (r"(0[1-9]|1[0-2])[ab]-(0[1-9]|1[0-2])[ab]", "half-months such as 05a-06b"),
    "spans": (r"[1-9](-[1-9])?", "whole numbers such as 1-3"),
}


def _range_fault(kind: str, text: str) -> str:
    pattern, example = _RANGES[kind]
    wrong = [part for part in split_list(text) if not re.fullmatch(pattern, part)]
    return f"must be {example} with ; between, not {wrong[0]!r}" if wrong else ""


def split_list(text: str) -> list[str]:
    """Return the parts of a list in a cell, which has semicolons between."""
    return [part.strip() for part in text.split(";") if part.strip()]


def to_number(text: str) -> float | None:
    """Return a cell as a number, or None; a decimal comma is understood."""
    cleaned = text.replace(",", ".") if re.fullmatch(r"\s*-?\d+,\d+\s*", text) else text
    try:
        value = float(cleaned)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def nearest(name: str, known: tuple[str, ...] | list[str]) -> str:
    """Return a hint at the nearest known name, or ""."""
    close = difflib.get_close_matches(name, list(known), n=1, cutoff=0.6)
    return f"; did you mean {close[0]!r}?" if close else ""


def _not_among(value: str, choices: tuple[str, ...]) -> str:
    return f"{value!r} is not one of {', '.join(choices)}{nearest(value, choices)}"

"""Single values: ids, numbers, yes or no, dates, as people write them."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

MISSING = {
    "",
    "-",
    "--",
    "n/a",
    "na",
    "nan",
    "none",
    "null",
    "?",
    "unknown",
    "<null>",
    "#n/a",
    "n.a.",
    "nil",
    "tbd",
}
YES = {
    "yes",
    "y",
    "true",
    "t",
    "1",
    "x",
    "ja",
    "si",
    "sí",
    "oui",
    "on",
    "ok",
    "✓",
    "evergreen",
    "coniferous",
    "conifer",
}
NO = {"no", "n", "false", "f", "0", "nein", "non", "off", "never", "deciduous", "leafless"}
NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)(e[-+]?\d+)?", re.IGNORECASE)
UNITS_M = {
    "m": 1.0, "meter": 1.0, "meters": 1.0, "metre": 1.0, "metres": 1.0, "cm": 0.01, "mm": 0.001,
    "ft": 0.3048, "foot": 0.3048, "feet": 0.3048, "'": 0.3048, "in": 0.0254, "inch": 0.0254, "inches": 0.0254,
    '"': 0.0254, "yd": 0.9144, "km": 1000.0,
}  # fmt: skip
"""Metres in a unit of length (international foot, exact by definition since 1959)."""

MOST_LETTERS = 60
"""Letters of a length in feet and inches at most; the pattern for them goes back and forth in longer text."""

EXCEL_START = dt.date(1899, 12, 30)


def tidy(text: str) -> str:
    """Return text with ordinary spaces, minus signs and quotes, composed letters, and no edge blanks."""
    if text.isascii():
        return " ".join(text.split())
    text = unicodedata.normalize("NFC", text)
    text = (
        text.replace("\u00a0", " ")
        .replace("\u202f", " ")
        .replace("\u2009", " ")
        .replace("−", "-")
        .replace("\u200b", "")
    )
    return re.sub(r"\s+", " ", text).strip()


def id_text(value: Any) -> str | None:
    """Return an id as text: leading zeros kept, a spreadsheet's trailing ".0" dropped.

    Examples
    --------
    >>> id_text("00417"), id_text(101.0), id_text("101.0"), id_text(" "), id_text(12345678901234567)
    ('00417', '101', '101', None, '12345678901234567')
    """
    if value is None or value is pd.NA or (isinstance(value, float) and np.isnan(value)):
        return None
    if isinstance(value, (bool, np.bool_)):
        return str(bool(value)).lower()
    if isinstance(value, (int, np.integer)):
        return str(int(value))
    if isinstance(value, (float, np.floating)):
        return str(int(value)) if float(value).is_integer() else repr(float(value))
    text = tidy(str(value)).lstrip("'’")
    if re.fullmatch(r"\d+\.0+", text):
        text = text.split(".")[0]
    return text or None


def lost_digits(value: Any) -> bool:
    """Return whether an id went through a number that cannot hold all its digits.

    Examples
    --------
    >>> lost_digits("1.23457E+16"), lost_digits(12345678901234567.0), lost_digits(12345678901234567)
    (True, True, False)
    """
    if isinstance(value, (float, np.floating)):
        return bool(np.isfinite(value)) and abs(float(value)) > 2**53
    return isinstance(value, str) and bool(re.fullmatch(r"\d[.,]\d+[eE]\+?\d+", value.strip()))


def is_missing(value: Any) -> bool:
    """Return whether a cell says that nothing is known."""
    if value is None or value is pd.NA or value is pd.NaT:
        return True
    if isinstance(value, (float, np.floating)):
        return bool(np.isnan(value))
    return isinstance(value, str) and tidy(value).lower() in MISSING


def with_minus(text: str) -> str:
    """Return text with an ordinary minus sign where a dash stands for one, before a number.

    Examples
    --------
    >>> with_minus("\u201382.9"), with_minus("3\u20135")
    ('-82.9', '3–5')
    """
    return re.sub(r"^([^\d]?\s?)[‐-―]\s?(?=[\d.])", r"\1-", text)


def number(text: str, *, decimal_comma: bool) -> float:
    """Return the number that a text writes, NaN if it is none.

    With both signs in it the last one is the decimal sign; a lone comma is one if the table writes decimal
    commas or if three digits do not follow.

    Examples
    --------
    >>> [number(text, decimal_comma=False) for text in ("1,5", "1,250", "1.234,5", "-3.4e2", "ph 6")]
    [1.5, 1250.0, 1234.5, -340.0, nan]
    >>> number("1,250", decimal_comma=True)
    1.25
    """
    text = re.sub(
        r"(?i)^(us\$|usd|eur|gbp|[$€£~])|(%|usd|eur|gbp|[$€£])$",
        "",
        with_minus(tidy(text)).replace(" ", "").replace("'", ""),
    )
    if "," in text and "." in text:
        text = (
            text.replace(",", "")
            if text.rfind(".") > text.rfind(",")
            else text.replace(".", "").replace(",", ".")
        )
    elif "," in text:
        thousands = re.fullmatch(r"[-+]?[1-9]\d{0,2}(,\d{3})+", text) and not decimal_comma
        text = (
            text.replace(",", "") if thousands else (text.replace(",", ".") if text.count(",") == 1 else "?")
        )
    return float(text) if NUMBER.fullmatch(text) else float("nan")


def length_m(text: str, *, decimal_comma: bool, unit: float = 1.0) -> float:
    r"""Return a length [m] from text with or without a unit; feet and inches may stand together.

    Examples
    --------
    >>> round(length_m("5'6\"", decimal_comma=False), 4), length_m("30 cm", decimal_comma=False)
    (1.6764, 0.3)
    >>> length_m("2", decimal_comma=False, unit=0.3048), length_m("tall", decimal_comma=False)
    (0.6096, nan)
    """
    clean = re.sub(r"[’′]{2}|[”″]", '"', tidy(text)).replace("’", "'").replace("′", "'").lower()
    plain = number(clean, decimal_comma=decimal_comma) if clean[-1:] not in ("'", '"') else float("nan")
    if not np.isnan(plain):
        return plain * unit
    if len(clean) > MOST_LETTERS:
        return float("nan")
    parts = re.findall(r"(\d+(?:[.,]\d+)?)(?:\s+(\d+)/(\d+))?\s*([a-z]+|'|\")", clean)
    rest = re.sub(r"(\d+(?:[.,]\d+)?)(?:\s+(\d+)/(\d+))?\s*([a-z]+|'|\")", "", clean).strip(" -+,")
    if not parts or any(p[3] not in UNITS_M for p in parts):
        return float("nan")
    total = 0.0
    for whole, top, bottom, name in parts:
        value = number(whole, decimal_comma=decimal_comma) + (
            int(top) / int(bottom) if top and int(bottom) else 0.0
        )
        total += value * UNITS_M[name]
    if rest and re.fullmatch(r"\d+", rest) and parts[-1][3] in ("'", "ft"):
        total += int(rest) * 0.0254
    elif rest:
        return float("nan")
    return total


def numbers(
    column: pd.Series[Any], *, decimal_comma: bool = False, unit: float | None = None
) -> tuple[NDArray[np.float64], dict[int, str]]:
    """Return a column as numbers (NaN where blank), and the rows whose text is no number.

    ``unit`` is the metres in one of the column's own units, for lengths; None for plain numbers.
    """
    factor = 1.0 if unit is None else unit
    if pd.api.types.is_numeric_dtype(column.dtype) and not pd.api.types.is_bool_dtype(column.dtype):
        values = column.to_numpy(dtype=float, na_value=np.nan)
        return np.where(np.isfinite(values), values, np.nan) * factor, {}
    out = np.full(len(column), np.nan)
    faults: dict[int, str] = {}
    for i, (row, value) in enumerate(zip(map(int, column.index), column, strict=True)):
        if is_missing(value):
            continue
        if isinstance(value, (bool, int, float, np.number)):
            out[i] = float(value) * factor
        elif unit is None:
            out[i] = number(str(value), decimal_comma=decimal_comma)
        else:
            out[i] = length_m(str(value), decimal_comma=decimal_comma, unit=unit)
        if np.isnan(out[i]):
            faults[row] = str(value)
    out[~np.isfinite(out)] = np.nan
    return out, faults


def flag(value: Any, *, if_other: bool) -> tuple[bool, bool]:
    """Return (yes?, plainly written?): blank is no, a count above 0 is yes.

    Examples
    --------
    >>> [flag(text, if_other=True) for text in ("Yes", "", "2", "two cats")]
    [(True, True), (False, True), (True, True), (True, False)]
    """
    if is_missing(value):
        return False, True
    if isinstance(value, (bool, np.bool_)):
        return bool(value), True
    text = tidy(str(value)).lower().rstrip(".!")
    if text in YES or text in NO:
        return text in YES, True
    count = number(text, decimal_comma=False)
    if not np.isnan(count):
        return count > 0, True
    return if_other, False


MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def date_parts(text: str) -> tuple[str, str] | None:
    """Return month and day of a text that is a date as spreadsheets write them, None if it is none.

    Examples
    --------
    >>> date_parts("2026-03-12"), date_parts("12-Mar"), date_parts("Mar-12"), date_parts("3-12")
    (('3', '12'), ('3', '12'), ('3', '12'), None)
    """
    iso = re.fullmatch(r"(?:19|20)\d\d-(\d\d)-(\d\d)(?: 00:00:00)?", text.strip())
    if iso:
        return str(int(iso[1])), str(int(iso[2]))
    short = re.fullmatch(r"(\d{1,2})-([A-Za-z]{3})|([A-Za-z]{3})-(\d{1,2})", text.strip())
    month = (short[2] or short[3]).lower() if short else ""
    return (
        (str(MONTHS.index(month) + 1), str(int(short[1] or short[4]))) if short and month in MONTHS else None
    )


def dates(column: pd.Series[Any]) -> tuple[list[str | None], dict[int, str], str | None]:
    """Return a column as ISO dates, the rows that stay as written, and what to tell.

    Day and month are told apart by the whole column (with dots the day comes first, common practice); if both
    orders fit, dates stay as they are written.
    """
    order = _day_order(column)
    out: list[str | None] = []
    kept: dict[int, str] = {}
    for row, value in zip(map(int, column.index), column, strict=True):
        iso, plain = _date(value, order)
        out.append(iso)
        if not plain and iso is not None:
            kept[row] = iso
    told = None
    if order == "" and any(re.fullmatch(r"\d{1,2}[/.-]\d{1,2}[/.-]\d{4}", v) for v in kept.values()):
        told = "day and month cannot be told apart, so dates stay as written; write them as 2026-03-01"
    return out, kept, told


def _day_order(column: pd.Series[Any]) -> str:
    day_first = month_first = False
    for value in column:
        match = (
            re.fullmatch(r"(\d{1,2})[/.-](\d{1,2})[/.-]\d{4}", str(value).strip())
            if isinstance(value, str)
            else None
        )
        if match:
            day_first |= int(match.group(1)) > 12
            month_first |= int(match.group(2)) > 12
    if day_first == month_first:
        return ""
    return "day" if day_first else "month"


def _date(value: Any, order: str) -> tuple[str | None, bool]:
    if is_missing(value):
        return None, True
    if isinstance(value, (dt.date, dt.datetime)):
        return value.isoformat()[:10], True
    text = tidy(str(value))
    if not re.sub(r"[0\s/.:T-]", "", text):
        return None, True
    if re.fullmatch(r"(1[89]|20)\d\d(-(0[1-9]|1[0-2]))?", text):  # a year or a month is all that is known
        return text, True
    match = re.match(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ T].*)?$", text) or re.fullmatch(
        r"(\d{4})(\d{2})(\d{2})", text
    )
    if match:
        year, month, day = (int(g) for g in match.groups())
        return _iso(year, month, day, text)
    match = re.fullmatch(r"(\d{1,2})[/.-](\d{1,2})[/.-](\d{4})", text)
    if match and (order or "." in text):
        first, second, year = (int(g) for g in match.groups())
        day, month = (first, second) if order != "month" else (second, first)
        return _iso(year, month, day, text)
    if re.fullmatch(r"[2-6]\d{4}(\.\d+)?", text):
        return (EXCEL_START + dt.timedelta(days=int(float(text)))).isoformat(), True
    for pattern in ("%d %b %Y", "%d %B %Y", "%b %d, %Y", "%B %d, %Y", "%b %d %Y", "%d-%b-%Y"):
        try:
            return dt.datetime.strptime(text, pattern).date().isoformat(), True
        except ValueError:
            continue
    return text, False


def _iso(year: int, month: int, day: int, text: str) -> tuple[str | None, bool]:
    try:
        return dt.date(year, month, day).isoformat(), True
    except ValueError:
        return text, False

"""Money as people write it: the number, and the currency beside it; nothing is ever converted."""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.layers.cells import values
from habitat.layers.formats.raw import Draft

CURRENCIES = {
    **dict.fromkeys(("$", "us$", "usd", "dollar", "dollars", "buck", "bucks"), "dollars"),
    **dict.fromkeys(("€", "eur", "euro", "euros"), "euros"),
    **dict.fromkeys(("£", "gbp", "pound", "pounds", "quid"), "pounds"),
    **dict.fromkeys(("c$", "ca$", "cad"), "CAD"),
    **dict.fromkeys(("a$", "au$", "aud"), "AUD"),
    **dict.fromkeys(("kč", "kc", "czk"), "CZK"),
    **dict.fromkeys(("zł", "zl", "pln"), "PLN"),
    **{code.lower(): code for code in ("CHF", "DKK", "HUF", "INR", "JPY", "MXN", "NOK", "NZD", "SEK", "ZAR")},
}
"""Signs, codes (ISO 4217) and everyday words for currencies: common practice."""


def amount(text: str, *, decimal_comma: bool) -> tuple[float, str]:
    """Return the number that a text writes and the currency beside it, "" where none is named.

    Examples
    --------
    >>> [amount(text, decimal_comma=False) for text in ("$3.50", "60 dollars", "1,200 Kč", "12", "a lot")]
    [(3.5, 'dollars'), (60.0, 'dollars'), (1200.0, 'CZK'), (12.0, ''), (nan, '')]
    """
    clean = values.tidy(text)
    beside = re.fullmatch(r"([^\d.,+-]*)([\d.,+\s'-]*\d[.,]?-?)\s*([^\d]*)", clean)
    if beside is None:
        return values.number(clean, decimal_comma=decimal_comma), ""
    words = [w.strip(" .").lower() for w in (beside[1], beside[3]) if w.strip(" .")]
    names = [CURRENCIES.get(w) or (w if _is_sign(w) else None) for w in words]
    if len(words) > 1 or None in names:
        return values.number(clean, decimal_comma=decimal_comma), ""
    return values.number(beside[2].rstrip(".,-"), decimal_comma=decimal_comma), str(names[0]) if names else ""


BUDGET = "budget"
"""Column of the sign-up sheet in which people say how much they would pay."""

ABOUT = re.compile(
    r"(?:about|around|approx\.?|approximately|roughly|ca\.?|circa|~|up to|at most|max\.?|maximum|under"
    r"|less than|not more than|no more than)\s*(?=\S)",
    re.IGNORECASE,
)
"""Words before a budget that leave the sum as it is: common practice."""

RANGE = re.compile(
    r"([^\d\s]{0,4}\s?\d[\d.,']*)\s*(?:-|–|—|to|or)\s*(?:[^\d\s]{0,4}\s?)(\d[\d.,']*)([^\d]*)", re.IGNORECASE
)


def one_sum(text: str) -> str:
    """Return a budget without the words before it, and of a range its lower end: no plan costs more.

    Examples
    --------
    >>> [one_sum(text) for text in ("about $80", "$50-100", "50 – 100 EUR", "-5", "1-2-3")]
    ['$80', '$50', '50 EUR', '-5', '1-2-3']
    """
    bare = ABOUT.sub("", text, count=1) if ABOUT.match(text) else text
    found = RANGE.fullmatch(bare)
    return f"{found[1]}{' ' if found[3].strip() else ''}{found[3].strip()}" if found else bare


def _is_sign(word: str) -> bool:
    return len(word) == 1 and unicodedata.category(word) == "Sc"


def amounts(draft: Draft, name: str) -> tuple[NDArray[np.float64], dict[int, str]]:
    """Return a column of money as numbers and the rows that hold none; tell what is not one currency.

    Numbers of several currencies stand as they were written. A point before three digits is the decimal
    sign here, as everywhere, but few people mean it so in money: each is told.
    """
    column = draft.table[name]
    if pd.api.types.is_numeric_dtype(column.dtype):
        found, faults = values.numbers(column)
        draft.details.setdefault("currencies", {})[name] = ()
        return found, faults
    out, faults = np.full(len(column), np.nan), {}
    named: dict[str, list[int]] = defaultdict(list)
    for i, (row, value) in enumerate(draft.items(name)):
        if values.is_missing(value):
            continue
        said = one_sum(values.tidy(value)) if name == BUDGET and isinstance(value, str) else value
        out[i], currency = _cell(said, draft.decimal_comma)
        if np.isnan(out[i]):
            faults[row] = str(value)
        elif currency:
            named[currency].append(row)
        if name == BUDGET and np.isfinite(out[i]) and isinstance(value, str) and said != values.tidy(value):
            draft.tell(f"{name} {value!r} is read as {out[i]:g}", row)
        if isinstance(value, str) and re.search(r"(?<![\d.,])[1-9]\d{0,2}\.\d{3}(?![\d.,])", value):
            draft.tell(
                f"{name} {value!r} is read as {out[i]:g}: if thousands are meant, leave out the point", row, 2
            )
    out[~np.isfinite(out)] = np.nan
    draft.details.setdefault("currencies", {})[name] = tuple(named)
    if len(named) > 1:
        said = ", ".join(f"{c} in {len(rows)} row(s)" for c, rows in named.items())
        draft.tell(
            f"{name} names several currencies ({said}): the numbers are taken as they stand, and nothing is "
            "converted; write all of them in one currency",
            harm=2,
        )
    return out, faults


def _cell(value: Any, decimal_comma: bool) -> tuple[float, str]:
    if isinstance(value, (bool, int, float, np.number)):
        return float(value), ""
    return amount(str(value), decimal_comma=decimal_comma)


def tell_currencies(drafts: dict[str, Draft]) -> None:
    """Tell where the growers' prices and the households' money each name one currency, and not the same."""
    one = {
        name: found[0]
        for name in ("participants", "growers")
        for found in (drafts[name].details.get("currencies", {}).values() if name in drafts else ())
        if len(found) == 1
    }
    if len(set(one.values())) > 1:
        drafts["growers"].tell(
            f"prices are in {one['growers']} and the budgets of the sign-up sheet in {one['participants']}: "
            "the numbers are compared as they stand, and nothing is converted; write both in one currency",
            harm=2,
        )

"""Numbers, money, lengths and areas as people write them, metric or US customary."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from typing import Any

from habitat.report.words.text import plain

M_PER_FT = 0.3048
"""International foot [m], by definition (1959)."""

UNKNOWN = "unknown"

_METRIC = re.compile(r"(\d+(?:\.\d+)?) (m|cm)(?![\w²])")
_BOTH = re.compile(r"(\d+(?:\.\d+)? c?m) \((\d+(?:\.\d+)? (?:ft|in))\)")
_AREAS = re.compile(r"(\d[\d,]*(?:\.\d+)?)(?: to (\d[\d,]*(?:\.\d+)?))? (?:square metres|m2|m²)")


def money(value: float, currency: str | None = None) -> str:
    """Return money with its currency, as word, code or sign; the bare number where none is given.

    Examples
    --------
    >>> money(1234.5), money(9.5), money(12.0), money(float("nan"))
    ('1,234', '9.50', '12', 'unknown')
    >>> money(12.0, "dollars"), money(12.0, ""), money(1234.5, "€")
    ('12 dollars', '12', '€1,234')
    """
    if not math.isfinite(value):
        return UNKNOWN
    told = f"{value:,.0f}" if value >= 100 or value == round(value) else f"{value:,.2f}"
    named = plain(currency, 20)
    if len(named) == 1 and unicodedata.category(named) == "Sc":
        return named + told
    return f"{told} {named}".rstrip()


def cost_words(currency: str) -> str:
    """Return the heading of figures of money.

    Examples
    --------
    >>> cost_words("dollars"), cost_words("")
    ('cost in dollars', 'cost')
    """
    named = plain(currency, 20)
    return f"cost in {named}" if named else "cost"


def number(value: float, digits: int = 1, unit: str = "") -> str:
    """Return a number with its unit; missing is "unknown", never 0.

    Examples
    --------
    >>> number(6.25, 1, "h"), number(float("nan"), 1, "h")
    ('6.2 h', 'unknown')
    """
    if value is None or not math.isfinite(value):
        return UNKNOWN
    return f"{value:,.{digits}f} {unit}".rstrip()


def _square_feet(found: re.Match[str]) -> str:
    """Return an area told in square metres, or a range of it, in square feet to two figures."""
    feet = [float(a.replace(",", "")) / M_PER_FT**2 for a in found.groups() if a]
    return " to ".join(f"{float(f'{a:.2g}'):,.0f}" for a in feet) + " square feet"


@dataclass(frozen=True, slots=True)
class Units:
    """Lengths and areas as the study wants them: ``metric`` or ``us`` customary.

    Examples
    --------
    >>> Units("metric").length(1.234), Units("us").length(1.234)
    ('1.2 m', '4 ft 1 in')
    >>> Units("metric").size(0.45), Units("us").size(0.45)
    ('45 cm', '18 in')
    >>> Units("metric").area(12.34), Units("us").area(12.34)
    ('12.3 m²', '133 sq ft')
    """

    system: str = "metric"

    def either(self, text: str) -> str:
        """Return text with lengths told both ways, such as "30 cm (1 ft)", in the units of the study only.

        Examples
        --------
        >>> Units("us").either("30 cm (1 ft) deep"), Units("metric").either("30 cm (1 ft) deep")
        ('1 ft deep', '30 cm deep')
        """
        return _BOTH.sub(r"\2" if self.us else r"\1", text)

    @property
    def us(self) -> bool:
        """Whether lengths are in feet and inches."""
        return self.system == "us"

    def length(self, metres: float) -> str:
        """Return a measured length: whole decimetres or inches are as fine as a tape on grass."""
        if not math.isfinite(metres):
            return UNKNOWN
        if not self.us:
            return f"{metres:,.1f} m"
        feet, inches = divmod(round(metres / M_PER_FT * 12), 12)
        if not feet:
            return f"{inches} in"
        return f"{feet:,} ft {inches} in" if inches else f"{feet:,} ft"

    def run(self, metres: float) -> str:
        """Return a length to buy by the metre or foot, such as edging."""
        if not math.isfinite(metres):
            return UNKNOWN
        return f"{metres / M_PER_FT:,.0f} ft" if self.us else f"{metres:,.1f} m"

    def distance(self, metres: float) -> str:
        """Return a distance across the neighbourhood, to two figures or the whole unit."""
        if not math.isfinite(metres):
            return UNKNOWN
        value, unit = (metres / M_PER_FT, "ft") if self.us else (metres, "m")
        rounded = round(value, 1 - math.floor(math.log10(value))) if value >= 10 else value
        return f"{rounded:,.0f} {unit}"

    def size(self, metres: float) -> str:
        """Return a plant's spacing, spread or height; in half feet from 3 feet on."""
        if not math.isfinite(metres):
            return UNKNOWN
        if self.us:
            inches = metres / M_PER_FT * 12
            return f"{round(inches)} in" if inches < 34.5 else f"{round(metres / M_PER_FT * 2) / 2:g} ft"
        return f"{round(metres * 100)} cm" if metres < 0.995 else f"{metres:.1f} m".replace(".0 ", " ")

    def area(self, square_metres: float) -> str:
        """Return an area: one decimal below 100 m2."""
        if not math.isfinite(square_metres):
            return UNKNOWN
        if self.us:
            return f"{square_metres / M_PER_FT**2:,.0f} sq ft"
        return f"{square_metres:,.{1 if square_metres < 99.95 else 0}f} m²"

    def ground(self, *square_metres: str) -> str:
        """Return a rounded area, or a range of two, in square metres or in square feet to two figures.

        Examples
        --------
        >>> Units("metric").ground("300"), Units("us").ground("200", "1,500")
        ('300 square metres', '2,200 to 16,000 square feet')
        """
        text = f"{' to '.join(square_metres)} square metres"
        return _AREAS.sub(_square_feet, text) if self.us else text

    def told(self, text: str) -> str:
        """Return a sentence of an earlier stage, all of which are metric, in these units.

        Examples
        --------
        >>> Units("us").told("Trees over 12 m stay 15 m away; below 0.76 m near the drive, 5 cm of mulch")
        'Trees over 39 ft stay 49 ft away; below 30 in near the drive, 2 in of mulch'
        >>> Units("us").told("like a single one of 300 square metres (200 to 1,500 square metres)")
        'like a single one of 3,200 square feet (2,200 to 16,000 square feet)'
        >>> Units("us").told("as well on 40 m2 in all")
        'as well on 430 square feet in all'
        >>> Units("metric").told("Trees over 12 m")
        'Trees over 12 m'
        """
        return _AREAS.sub(_square_feet, _METRIC.sub(self._retold, text)) if self.us else text

    def _retold(self, found: re.Match[str]) -> str:
        return self.given(float(found[1]) / (100.0 if found[2] == "cm" else 1.0))

    def given(self, metres: float) -> str:
        """Return a length that a rule, a table or the study gives: as given, or in feet, whole from 3 m on.

        Examples
        --------
        >>> Units("metric").given(12.0), Units("us").given(12.0), Units("us").given(0.76)
        ('12 m', '39 ft', '30 in')
        """
        if not self.us:
            return f"{metres:g} m"
        return f"{metres / M_PER_FT:,.0f} ft" if metres >= 3.0 else self.size(metres)

    def depth(self, metres: float) -> str:
        """Return a small depth or height in centimetres or inches."""
        return f"{metres / M_PER_FT * 12:.0f} in" if self.us else f"{metres * 100:.0f} cm"

    def rain(self, millimetres: float) -> str:
        """Return a depth of water."""
        return f"{millimetres / 25.4:.1f} in" if self.us else f"{millimetres:.0f} mm"


METRIC = Units()


# Figures with their range over reach: no more digits than the range supports.


def rounded(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return a value and its range as text, in steps that half of the range holds.

    Never in steps finer than a twentieth: no habitat is known more closely (judgement).

    Examples
    --------
    >>> rounded(321.4, 204.0, 518.0)
    ('300', '200', '500')
    >>> rounded(0.6234, 0.601, 0.655)
    ('0.62', '0.60', '0.66')
    """
    width = max(abs(high - low) / 2.0, abs(value) / 20.0) or 1.0
    power = math.floor(math.log10(width))
    step, digits = 10.0**power * (5.0 if width >= 5.0 * 10.0**power else 1.0), max(0, -power)
    texts = [f"{round(v / step) * step:,.{digits}f}" for v in (value, low, high)]
    return texts[0], texts[1], texts[2]


def share(value: float, low: float, high: float) -> str:
    """Return a share in words with its range, in whole per cent, in tens where the range is wider than that.

    What is not quite none or all is not rounded to none or all.

    Examples
    --------
    >>> share(0.6234, 0.55, 0.70)
    '60 % (60 to 70 %)'
    >>> share(0.62, 0.62, 0.62), share(0.998, 0.998, 0.998), share(0.03, 0.01, 0.2)
    ('62 %', 'almost 100 %', 'less than 10 % (0 to 20 %)')
    """
    low, high = min(value, low, high) * 100, max(value, low, high) * 100
    step = share_step(low / 100, high / 100)
    one, two, three = (f"{round(v / step) * step:.0f}" for v in (value * 100, low, high))
    if one == "100" and value < 1.0 - 1e-9:
        one = "almost 100"
    elif one == "0" and value > 0.0:
        one = f"less than {step}"
    return f"{one} % ({two} to {three} %)" if two != three else f"{one} %"


def share_step(low: float, high: float) -> int:
    """Return the step [%] in which a share (0-1) is said: 1, or 10 where its range is 10 or wider."""
    return 10 if high - low >= 0.1 else 1


# What an invitation adds and how firm it is, in words.


def kept_words(row: Any, draws: int) -> str:
    """Return how firm an invitation is with other reach, soil and luck; "" if not tried.

    Firm where it stays on the list four times in five, fairly firm every other time (judgement).
    """
    kept = getattr(row, "kept_share", math.nan)
    if kept is None or math.isnan(kept) or draws < 1:
        return ""
    grade = "firm" if kept >= 0.8 else "fairly firm" if kept >= 0.5 else "not firm"
    return f"{grade} ({kept * draws:.0f} of {draws})"

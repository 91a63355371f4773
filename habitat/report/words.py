"""How numbers, months, units and text from data are written where people read them."""

from __future__ import annotations

import hashlib
import math
import re
import unicodedata
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from habitat.connectivity.words import points

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
SHORT_MONTHS = tuple(name[:3] for name in MONTHS)

M_PER_FT = 0.3048
"""International foot [m], by definition (1959)."""

UNKNOWN = "unknown"

OWN_CURRENCY = "in the group's own currency"
"""What is said of money where the study names no currency."""

NEED_WORDS = {
    "sun_h": "sun",
    "sun_afternoon_h": "afternoon sun",
    "ph": "soil reaction (pH)",
    "drainage": "soil drainage",
    "texture": "soil texture",
    "depth_cm": "depth of soil",
    "available_water_mm": "water that the soil holds",
    "zone": "winter cold",
    "salt": "road salt",
}
"""Needs in words, for sheets and maps."""

FORM_WORDS = {"herb": "flowers and grasses", "shrub": "shrubs and vines", "tree": "trees"}
"""Growth forms in words."""

_RESERVED = {"con", "prn", "aux", "nul", *(f"com{i}" for i in range(10)), *(f"lpt{i}" for i in range(10))}
_BIDI = re.compile("[\u061c\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff]")
_METRIC = re.compile(r"(\d+(?:\.\d+)?) (m|cm)(?![\w²])")
_AREAS = re.compile(r"(\d[\d,]*(?:\.\d+)?)(?: to (\d[\d,]*(?:\.\d+)?))? (?:square metres|m2|m²)")
_MONTH_NUMBERS = {name[:3].lower(): str(n) for n, name in enumerate(MONTHS, 1)} | {
    "spring": "3-5",
    "summer": "6-8",
    "fall": "9-11",
    "autumn": "9-11",
}
"""Months by the beginning of their names, and the seasons of whole months (common practice)."""
_MONTH_NAMES = re.compile(
    r"\b(spring|summer|fall|autumn|jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?", re.IGNORECASE
)
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def plain(value: object, longest: int = 80) -> str:
    r"""Return text from data as one line that is safe to set anywhere.

    Control characters, marks that turn the writing direction and lone surrogates go; runs of white space
    become one blank; what is longer than ``longest`` characters ends in an ellipsis. Missing values are "".

    Examples
    --------
    >>> plain("Two\n lines\x00"), plain(None), plain("a" * 9, 5)
    ('Two lines', '', 'aaaa…')
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    text = _BIDI.sub("", str(value))
    kept = (" " if unicodedata.category(c) == "Cc" else c for c in text if unicodedata.category(c) != "Cs")
    text = " ".join("".join(kept).split())
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def csv_cell(value: object) -> object:
    """Return a value for a CSV cell that no spreadsheet takes for a formula; numbers stay numbers.

    Text that starts like a formula gets an apostrophe in front (common practice against formula injection).

    Examples
    --------
    >>> csv_cell("=1+1"), csv_cell("plain"), csv_cell(-2.5)
    ("'=1+1", 'plain', -2.5)
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, (int, float)):
        return value
    text = plain(value, 1000)
    return "'" + text if text.startswith(_FORMULA) else text


def file_names(ids: Iterable[str], prefix: str = "", suffix: str = "") -> dict[str, str]:
    """Return a file name for each id: safe on any disk, no two alike even where case does not count.

    An id of plain letters, digits, ``_`` and ``-`` (at most 40) is kept; of any other, what is left of
    it and eight digits of its hash are taken, so that a name does not depend on the other ids.

    Examples
    --------
    >>> file_names(["0007", "../../x"], "yard-", ".pdf")
    {'0007': 'yard-0007.pdf', '../../x': 'yard-x-9cdf6a50.pdf'}
    """
    out: dict[str, str] = {}
    taken: set[str] = set()
    for given in dict.fromkeys(ids):
        name = _stem(given)
        if name.lower() in taken:
            name = f"{name}-{_digest(given)}"
        taken.add(name.lower())
        out[given] = f"{prefix}{name}{suffix}"
    return out


def _stem(given: str) -> str:
    if re.fullmatch(r"[A-Za-z0-9_-]{1,40}", given) and given.lower() not in _RESERVED:
        return given
    ascii_text = unicodedata.normalize("NFKD", given).encode("ascii", "ignore").decode()
    left = re.sub(r"[^A-Za-z0-9]+", "-", ascii_text).strip("-")[:24].strip("-")
    return f"{left}-{_digest(given)}" if left else _digest(given)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]


def listed(words: Collection[str], last: str = "and") -> str:
    """Return words as a list in a sentence.

    Examples
    --------
    >>> listed(["oak"]), listed(["oak", "elm"]), listed(["oak", "elm", "plum"])
    ('oak', 'oak and elm', 'oak, elm and plum')
    """
    parts = list(words)
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"


def counted(number: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> counted(1, "yard"), counted(1200, "plant"), counted(2, "stem or branch", "stems or branches")
    ('1 yard', '1,200 plants', '2 stems or branches')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def month_set(text: str) -> frozenset[int]:
    """Return the months of a text such as ``6-8``, ``3, 11-1`` or ``Apr-Jun``; nothing of what is no month.

    Examples
    --------
    >>> sorted(month_set("3, 11-1")), sorted(month_set("April to June")), sorted(month_set("fall"))
    ([1, 3, 11, 12], [4, 5, 6], [9, 10, 11])
    >>> month_set("")
    frozenset()
    """
    months: set[int] = set()
    text = _MONTH_NAMES.sub(lambda found: _MONTH_NUMBERS[found[1].lower()], text or "")
    for first, last in re.findall(r"(\d+)(?:\s*(?:[-–]|to)\s*(\d+))?", text):
        start, end = int(first), int(last or first)
        if 1 <= start <= 12 and 1 <= end <= 12:
            months |= {(start - 1 + k) % 12 + 1 for k in range((end - start) % 12 + 1)}
    return frozenset(months)


def month_words(months: Iterable[int], *, short: bool = False) -> str:
    """Return months in words, runs with a dash, over the turn of the year if need be.

    Examples
    --------
    >>> month_words([6, 7, 8]), month_words([11, 12, 1], short=True), month_words([4, 9]), month_words([])
    ('June–August', 'Nov–Jan', 'April, September', '')
    """
    have = sorted({m for m in months if 1 <= m <= 12})
    names = SHORT_MONTHS if short else MONTHS
    if len(have) == 12:
        return "all year"
    runs = []
    for first in (m for m in have if (m - 2) % 12 + 1 not in have):
        last = first
        while last % 12 + 1 in have:
            last = last % 12 + 1
        runs.append(names[first - 1] if first == last else f"{names[first - 1]}–{names[last - 1]}")
    return ", ".join(runs)


def date_words(date: object) -> str:
    """Return a date as people write it, the month in letters so that no order of numbers is in doubt.

    Examples
    --------
    >>> import datetime
    >>> date_words(datetime.date(2026, 3, 1))
    '1 March 2026'
    """
    year, month, day = (getattr(date, part, None) for part in ("year", "month", "day"))
    return f"{day} {MONTHS[month - 1]} {year}" if month else "no date"


def money(value: float, currency: str | None = None) -> str:
    """Return money with its currency; without one where the words around it name it (None).

    Examples
    --------
    >>> money(1234.5), money(9.5), money(12.0), money(float("nan"))
    ('1,234', '9.50', '12', 'unknown')
    >>> money(12.0, "dollars"), money(12.0, "")
    ('12 dollars', "12 in the group's own currency")
    """
    if not math.isfinite(value):
        return UNKNOWN
    told = f"{value:,.0f}" if value >= 100 or value == round(value) else f"{value:,.2f}"
    return told if currency is None else f"{told} {plain(currency, 20) or OWN_CURRENCY}"


def cost_words(currency: str) -> str:
    """Return the heading of figures of money.

    Examples
    --------
    >>> cost_words("dollars"), cost_words("")
    ('cost in dollars', 'cost in your currency')
    """
    return f"cost in {plain(currency, 20) or 'your currency'}"


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
    ('1.23 m', '4 ft 1 in')
    >>> Units("metric").size(0.45), Units("us").size(0.45)
    ('45 cm', '18 in')
    >>> Units("metric").area(12.34), Units("us").area(12.34)
    ('12.3 m²', '133 sq ft')
    """

    system: str = "metric"

    @property
    def us(self) -> bool:
        """Whether lengths are in feet and inches."""
        return self.system == "us"

    def length(self, metres: float) -> str:
        """Return a measured length: centimetres or whole inches are as fine as a tape on grass."""
        if not math.isfinite(metres):
            return UNKNOWN
        if not self.us:
            return f"{metres:,.2f} m"
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
        """Return a plant's spacing, spread or height."""
        if not math.isfinite(metres):
            return UNKNOWN
        if self.us:
            inches = metres / M_PER_FT * 12
            return (
                f"{round(inches)} in" if inches < 35.5 else f"{metres / M_PER_FT:.1f} ft".replace(".0 ", " ")
            )
        return f"{round(metres * 100)} cm" if metres < 0.995 else f"{metres:.1f} m".replace(".0 ", " ")

    def area(self, square_metres: float) -> str:
        """Return an area: one decimal below 100 m2."""
        if not math.isfinite(square_metres):
            return UNKNOWN
        if self.us:
            return f"{square_metres / M_PER_FT**2:,.0f} sq ft"
        return f"{square_metres:,.{1 if square_metres < 99.95 else 0}f} m²"

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
        metres = float(found[1]) / (100.0 if found[2] == "cm" else 1.0)
        return f"{metres / M_PER_FT:,.0f} ft" if metres >= 3.0 else self.size(metres)

    def depth(self, metres: float) -> str:
        """Return a small depth or height in centimetres or inches."""
        return f"{metres / M_PER_FT * 12:.0f} in" if self.us else f"{metres * 100:.0f} cm"

    def rain(self, millimetres: float) -> str:
        """Return a depth of water."""
        return f"{millimetres / 25.4:.1f} in" if self.us else f"{millimetres:.0f} mm"


# What an invitation adds and how firm it is, in words.


def gain_words(row: Any) -> str:
    """Return what an invitation adds, in points of the joint score, with its range over reach."""
    ends = [getattr(row, f"gain_pct_{reach}_reach", math.nan) for reach in ("low", "high")]
    low, high = (row.gain_pct if e is None or math.isnan(e) else float(e) for e in ends)
    return points(row.gain_pct, low, high)


def kept_words(row: Any, draws: int) -> str:
    """Return in how many tries of reach, soil and luck an invitation stays on the list; "" if not tried."""
    kept = getattr(row, "kept_share", math.nan)
    if kept is None or math.isnan(kept) or draws < 1:
        return ""
    return f"{kept * draws:.0f} of {draws} tries"

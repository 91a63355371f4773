"""The corridor's absolute figures in words: broods, area, colonisations, groups, capacity to last."""

from __future__ import annotations

import math
from typing import Any

from habitat.report.words.numbers import UNKNOWN, Units, rounded

FIGURES = {
    "broods": "broods a year that yards feed",
    "equivalent_area_m2": "linked breeding ground, as a single place",
    "colonisations": "females that come to an empty yard a year",
    "groups": "groups of breeding places with no way between",
    "capacity_m2": "capacity to last, as an area",
}
"""Absolute figures in the order in which they are told, and what they are called."""
STATES = {
    "today": "today",
    "members": "with the members' plans",
    "invited": "with those to ask next",
}
"""States that are told, and what they are called."""
EXPLAINED = (
    "Broods are counted from plants in yards; habitat that is there already comes on top. Linked breeding "
    "ground is the area of a single place worth as much as all places with the ways between them, with its "
    "range over how far butterflies may move. Females take one of each brood to leave, straight in a "
    "direction at random. The capacity to last counts how well places can reseed each other. None of these "
    "depends on who else is on the sign-up sheet beside those who take part, so they can be compared between "
    "runs and years."
)


def figure_words(entry: dict[str, Any], state: str, figure: str, units: Units) -> str:
    """Return a figure of a state as it is told, areas with their range over reach; "unknown" if not known.

    Parameters
    ----------
    entry
        Of a butterfly, or of all together, in the headline.
    """
    value = (entry.get(state) or {}).get(figure)
    if value is None or not math.isfinite(value):
        return UNKNOWN
    if figure in ("broods", "groups"):
        return f"{value:,.0f}"
    if figure == "colonisations":
        return count_words(float(value))
    ends = [(entry.get(r) or {}).get(state, {}).get(figure) for r in ("low_reach", "high_reach")]
    return area_words(float(value), *(float(value if e is None else e) for e in ends), units=units)


def area_words(area_m2: float, low_m2: float, high_m2: float, *, units: Units) -> str:
    """Return an area with its range, with no more digits than the range supports.

    Examples
    --------
    >>> area_words(321.4, 204.0, 518.0, units=Units("metric"))
    '300 m² (200 to 500 m²)'
    >>> area_words(0.0, 0.0, 0.0, units=Units("us"))
    '0 sq ft'
    """
    scale, unit = (1.0 / 0.3048**2, "sq ft") if units.us else (1.0, "m²")
    low_m2, high_m2 = min(area_m2, low_m2, high_m2), max(area_m2, low_m2, high_m2)
    if high_m2 <= 0.0:
        return f"0 {unit}"
    one, two, three = rounded(area_m2 * scale, low_m2 * scale, high_m2 * scale)
    return f"{one} {unit}" + (f" ({two} to {three} {unit})" if two != three else "")


def count_words(value: float) -> str:
    """Return a number that rests on judgement, to two figures.

    Examples
    --------
    >>> count_words(12.34), count_words(0.041), count_words(0.0), count_words(1234.0)
    ('12', 'fewer than 0.1', 'none', '1,200')
    """
    if value <= 0.0:
        return "none"
    return f"{float(f'{value:.2g}'):,g}" if value >= 0.1 else "fewer than 0.1"


def gain_words(row: Any, units: Units) -> str:
    """Return what an invitation adds: broods, where they are counted, and linked ground with its range."""
    ends = [getattr(row, f"gain_m2_{reach}_reach", math.nan) for reach in ("low", "high")]
    low, high = (row.gain_m2 if e is None or math.isnan(e) else float(e) for e in ends)
    area = area_words(float(row.gain_m2), low, high, units=units)
    broods = getattr(row, "gain_broods", math.nan)
    if broods is None or math.isnan(broods):
        return area
    return f"{broods:.0f} brood{'s' * (round(broods) != 1)}, {area}"

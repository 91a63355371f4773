"""How much of a page its text takes, told before it is set, so that most sheets are set once."""

from __future__ import annotations

import functools
import math
from importlib.resources import as_file, files
from typing import Any

from matplotlib.ft2font import FT2Font, LoadFlags

MM_PER_PT = 25.4 / 72

FIRST_MM, PLANT_MM = 74.0, 3.9
"""What heading, legend, scale and margins of the first page take, and each plant of the list [mm].

These and the numbers below were fitted to sixty sheets as set, in three sizes of text; no page took over
``SPARE_MM`` more than they say.
"""

SECOND_MM, PART_MM, BULLET_MM = 42.0, 7.0, 1.05
"""What heading, scale and margins of the second page take, and each headed part and bullet [mm]."""

RULE_EM, STANDING_EM, PROSE_EM, MEASURE_EM = 1.0, 1.33, 0.84, 0.68
"""Height of a line of the rules, of what stands already, of prose and of measures [em]."""

SPARE_MM = (5.5, 6.6)
"""So much is left free on the first and the second page [mm]."""

LEAST_MM = 62.0
"""Drawings are not made lower than this to give room to text [mm]."""


def rooms_left(
    sheet: dict[str, Any], sizes_pt: tuple[float, float], page_mm: tuple[float, float]
) -> tuple[float, float]:
    """Return how high the drawings of the first two pages may be [mm]; below 0 where text fills the page.

    Parameters
    ----------
    sheet
        What ``sheet_data`` returned.
    sizes_pt
        Sizes of the text of the two pages.
    page_mm
        Width of the text and height of the page.
    """
    wide, high = page_mm
    em = sizes_pt[0] * MM_PER_PT
    rules = float(sum(lines_of(text, sizes_pt[0], wide - 11.0) for text in sheet["safety"]))
    rules += 0.84 * lines_of(sheet["defer"], 0.84 * sizes_pt[0], wide - 6.0)
    there = lines_of(f"Here already: {sheet['standing']}.", sizes_pt[0], wide) if sheet["standing"] else 0
    first = FIRST_MM + PLANT_MM * len(sheet["plants"]) + em * (RULE_EM * rules + STANDING_EM * there)
    em, told = sizes_pt[1] * MM_PER_PT, [row for part in sheet["parts"] for row in part["rows"]]
    prose = lines_of(sheet["layout"]["words"], sizes_pt[1], wide)
    prose += sum(lines_of(row, sizes_pt[1], wide - 3.0) for row in told)
    measures = math.ceil(len(sheet["layout"]["rows"]) / 2)
    second = SECOND_MM + PART_MM * len(sheet["parts"]) + BULLET_MM * len(told)
    second += em * (PROSE_EM * prose + MEASURE_EM * measures)
    return high - first - SPARE_MM[0], high - second - SPARE_MM[1]


def lines_of(text: str, size_pt: float, wide_mm: float) -> int:
    """Return in how many lines of a width a text is broken at its blanks.

    Examples
    --------
    >>> lines_of("word " * 20, 10.0, 60.0) > lines_of("word " * 20, 10.0, 120.0) == 2
    True
    """
    blank = _em(" ") * size_pt * MM_PER_PT
    lines, left = 1, wide_mm
    for word in text.split(" "):
        long = sum(map(_em, word)) * size_pt * MM_PER_PT
        if long > left < wide_mm:
            lines, left = lines + 1, wide_mm
        left -= long + blank
    return lines


@functools.cache
def _font() -> FT2Font:
    with as_file(files("habitat.report") / "assets" / "SourceSans3-Regular.ttf") as path:
        return FT2Font(str(path))


@functools.cache
def _em(letter: str) -> float:
    """Return the width of a letter of the shipped font [em]."""
    font = _font()
    return font.load_char(ord(letter), flags=LoadFlags.NO_SCALE).horiAdvance / font.units_per_EM

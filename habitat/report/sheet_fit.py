"""How large a sheet can be set so that it takes two pages: an estimate, so that few sizes are tried."""

from __future__ import annotations

from typing import Any

from habitat.report.sheet_data import MANY_PLANTS, Size

SIZES = (
    Size(8.0, 150.0, 84.0),
    Size(7.5, 128.0, 72.0),
    Size(7.2, 110.0, 62.0),
    Size(7.0, 96.0, 54.0),
    Size(7.0, 84.0, 48.0),
)
"""Sizes to try, largest first; nothing on a sheet is set smaller than 7 pt."""

MOST_PAGES = 2
FRAME_MM = 26.0
"""Margins above and below the text of a page [mm]."""

LETTER_MM2 = 2.75
"""Paper that a letter of 8 pt takes with its share of the leading and of lines not filled [mm2]."""

SLACK_MM = 29.0
"""What the estimate leaves out (broken rows, white at the foot of a page), from sheets of the demo [mm]."""

HEADING_MM = 5.5
COLUMN_MM = 186.0


def sizes_from(sheet: dict[str, Any], page_mm: float) -> tuple[Size, ...]:
    """Return the sizes that are worth trying: from the first that by the estimate fits two pages."""
    room = MOST_PAGES * (page_mm - FRAME_MM) - SLACK_MM
    first = next((k for k, size in enumerate(SIZES) if _height(sheet, size) <= room), len(SIZES) - 1)
    return SIZES[first:]


def _height(sheet: dict[str, Any], size: Size) -> float:
    """Return about how high a sheet is [mm], drawings at their most."""
    plants = len(sheet["plants"])
    table = 6.0 + plants * (5.0 if plants > MANY_PLANTS else 7.2)
    strip = 24.0 + 4.1 * len(sheet["year"]["butterflies"])
    layout = 12.0 + 3.3 * len(sheet["layout"]["rows"]) / 3
    sides = max((_text(side, size, COLUMN_MM / 2) for side in sheet["sides"]), default=0.0)
    text = _text(sheet["parts"], size, COLUMN_MM)
    return 42.0 + size.yard_mm * 0.9 + table + sides + size.beds_mm * 0.8 + layout + strip + text


def _text(parts: list[dict[str, Any]], size: Size, wide_mm: float) -> float:
    """Return about how high parts of text are [mm] at a width."""
    letters = sum(_letters(part["rows"]) for part in parts)
    lines = sum(len(part["rows"]) for part in parts)
    scale = (size.text_pt / 8.0) ** 2
    return (letters * LETTER_MM2 * scale + 60.0 * lines + HEADING_MM * len(parts) * COLUMN_MM / 2) / wide_mm


def _letters(value: Any) -> int:
    if isinstance(value, str):
        return len(value)
    return sum(_letters(v) for v in (value.values() if isinstance(value, dict) else value))

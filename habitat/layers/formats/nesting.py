"""How deep shapes, lists and elements stand inside each other, counted before any library sees them.

The libraries descend by calls within calls; a file that nests without end ends the process, not the reading.
"""

from __future__ import annotations

import re

import numpy as np

from habitat.errors import HabitatError, LayerError

MOST_COLLECTIONS = 64
"""Collections of shapes in one shape; the format library itself stops at 32 inside each other."""

MOST_BRACKETS = 200
"""Brackets inside each other in JSON or text of shapes; a multipolygon in a collection needs ten."""

MOST_ELEMENTS = 100
"""Elements of XML inside each other: folders in folders, say; judgement."""

FLAGS = rb"[\x00\x20\x40\x60\x80\xa0\xc0\xe0]"
COLLECTION = re.compile(
    rb"\x01(?:\x07\x00|\xef\x03|\xd7\x07|\xbf\x0b)\x00" + FLAGS
    + rb"|\x00" + FLAGS + rb"\x00(?:\x00\x07|\x03\xef|\x07\xd7|\x0b\xbf)"
)  # fmt: skip
"""Heads of collections in well-known binary: either byte order, with heights, measures, reference numbers."""

ELEMENT = re.compile(r"<(/?)[A-Za-z_][^<>]*?(/?)>")


def too_deep_binary(value: bytes) -> bool:
    """Return whether a shape in well-known binary holds more collections than any honest one.

    Examples
    --------
    >>> point = bytes.fromhex("0101000000000000000000F03F000000000000F03F")
    >>> inside = bytes.fromhex("010700000001000000")
    >>> too_deep_binary(inside * 3 + point), too_deep_binary(inside * 100 + point)
    (False, True)
    """
    if len(value) < 9 * MOST_COLLECTIONS:
        return False
    found = enumerate(COLLECTION.finditer(value), 1)
    return any(count > MOST_COLLECTIONS for count, _ in found)


def too_deep_text(text: str) -> bool:
    """Return whether brackets of any kind stand inside each other deeper than in any honest text of shapes.

    Examples
    --------
    >>> too_deep_text("POLYGON((0 0, 1 0, 1 1, 0 0))"), too_deep_text("[" * 300)
    (False, True)
    """
    if len(text) <= MOST_BRACKETS:
        return False
    depth = 0
    for start in range(0, len(text), 1 << 24):
        letters = np.frombuffer(text[start : start + (1 << 24)].encode("ascii", "replace"), np.uint8)
        opened, closed = np.isin(letters, list(b"([{")), np.isin(letters, list(b")]}"))
        level = depth + np.cumsum(opened.astype(np.int32) - closed.astype(np.int32))
        if level.max() > MOST_BRACKETS:
            return True
        depth = int(level[-1])
    return False


def refuse_deep_elements(text: str, where: str, error: type[HabitatError] = LayerError) -> None:
    """Refuse marked-up text whose elements stand too deep inside each other.

    Raises
    ------
    HabitatError
        Of the kind asked for.
    """
    depth = 0
    for found in ELEMENT.finditer(text):
        depth += -1 if found[1] else (0 if found[2] else 1)
        if depth > MOST_ELEMENTS:
            raise error(
                f"its elements stand more than {MOST_ELEMENTS} deep inside each other",
                where,
                "Export it again from the program that made it",
            )

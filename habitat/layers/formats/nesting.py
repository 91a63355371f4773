"""How deep shapes, lists and elements stand inside each other, counted before any library sees them.

The libraries descend by calls within calls; a file that nests without end ends the process, not the reading.
"""

from __future__ import annotations

import re
import struct

import numpy as np

from habitat.errors import HabitatError, LayerError

MOST_COLLECTIONS = 64
"""Collections of shapes inside each other; the format library itself stops at 32."""

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
    """Return whether collections stand deeper inside each other in well-known binary than in honest shapes.

    Coordinates may look like heads of collections, so where there are many the shape is gone through.

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
    return any(count > MOST_COLLECTIONS for count, _ in found) and _depth(value) > MOST_COLLECTIONS


HOLDERS, RINGS = frozenset((4, 5, 6, 7, 9, 10, 11, 12, 15, 16)), frozenset((3, 17))
"""Codes of shapes made of shapes, and of rings of points (OGC 06-103r4, table 7)."""


def _depth(value: bytes) -> int:
    """Return how deep shapes stand inside each other; one that ends too early is gone through up to there."""
    at, deepest = 0, 0
    open_parts = [1]
    try:
        while open_parts:
            if open_parts[-1] == 0:
                open_parts.pop()
                continue
            open_parts[-1] -= 1
            order = "<" if value[at] else ">"
            (code,) = struct.unpack_from(f"{order}I", value, at + 1)
            at += 5 + 4 * bool(code & 0x20000000)
            kind, dimensions = (code & 0xFFFF) % 1000, (code & 0xFFFF) // 1000
            height, measure = bool(code & 0x80000000), bool(code & 0x40000000)
            of_point = 8 * (2 + (height or dimensions in (1, 3)) + (measure or dimensions in (2, 3)))
            if kind in HOLDERS:
                open_parts.append(struct.unpack_from(f"{order}I", value, at)[0])
                at += 4
                deepest = max(deepest, len(open_parts) - 1)
            else:
                at = _behind_points(value, at, order, kind, of_point)
    except (struct.error, IndexError):
        pass  # it ends too early, which its reader tells
    return deepest


def _behind_points(value: bytes, at: int, order: str, kind: int, of_point: int) -> int:
    """Return where a shape without parts ends: a point, a line, or rings."""
    if kind == 1:
        return at + of_point
    rings = 1
    if kind in RINGS:
        rings, at = struct.unpack_from(f"{order}I", value, at)[0], at + 4
    for _ in range(rings):
        at += 4 + of_point * struct.unpack_from(f"{order}I", value, at)[0]
    return at


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

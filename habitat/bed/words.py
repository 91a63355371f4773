"""Sizes of beds as people say them, each understood by one table; sun, soil and wetness: ``factors.said``."""

from __future__ import annotations

import re
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from habitat.errors import ParameterError

M_PER_FT, M_PER_IN = 0.3048, 0.0254
"""International foot and inch [m], by definition (1959)."""

UNITS_M = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), 0.01),
    **dict.fromkeys(("ft", "foot", "feet", "'"), M_PER_FT),
    **dict.fromkeys(("in", "inch", "inches", '"'), M_PER_IN),
}
US_UNITS = frozenset(("ft", "foot", "feet", "'", "in", "inch", "inches", '"'))

LARGEST_M2 = 100.0
"""More ground is a yard, with walks and more than one bed: judgement."""

LONGEST_M = 30.0
"""A longer side is a slip or a hedge: judgement."""

NARROWEST_M = 0.6
"""A bed in the ground is at least so wide, two groups side by side; narrower is a box: judgement."""

BOX_M, POT_M = (1.0, 0.25), 0.6
"""Length and width of a balcony box, width of a pot, where none is given: common in the trade (memory)."""

CONTAINER_M, CONTAINER_LEAST_M2 = (0.15, 2.0), 0.12
"""Narrowest and longest side of a pot or box, and the least ground, which one plant takes: judgement."""

POT_SEGMENTS = 16
"""Segments per quarter of a pot's rim."""

_CONTAINERS = {
    "box": r"(?:(?:balcony|window|planter)\s+)?box(?:es)?|planters?|troughs?",
    "pot": r"flower pots?|flowerpots?|containers?|tubs?|pots?",
}
_UNIT = r"(?:metres?|meters?|centimetres?|centimeters?|inches|inch|feet|foot|cm|ft|in|m|'|\")"
_LENGTH = rf"(\d+(?:[.,]\d+)?)\s*({_UNIT}?)(?:\s*(\d+(?:[.,]\d+)?)\s*(inches|inch|in|\"))?"
_PAIR = re.compile(rf"{_LENGTH}\s*(?:x|×|\*|by)\s*{_LENGTH}")
_ONE = re.compile(_LENGTH)

SIZE_HELP = 'a length and a width with their unit, such as 4x2m or 12x6ft; or "a pot", "a balcony box"'


@dataclass(frozen=True, slots=True, kw_only=True)
class BedSize:
    """Ground of a bed: ``length_m`` and ``width_m`` [m], the longer first; a pot's are its width across.

    kind : "bed" in the ground, "box" or "pot" of potting soil. us : whether it was said in feet or inches.
    """

    length_m: float
    width_m: float
    kind: str = "bed"
    us: bool = False

    @property
    def contained(self) -> bool:
        """Whether it is a pot or box."""
        return self.kind != "bed"

    @property
    def outline(self) -> Polygon:
        """Return its outline [m], west to east, the south-west corner of its frame at (0, 0)."""
        if self.kind != "pot":
            return shapely.box(0.0, 0.0, self.length_m, self.width_m)
        radius = self.length_m / 2.0
        return shapely.Point(radius, radius).buffer(radius, quad_segs=POT_SEGMENTS)

    @property
    def area_m2(self) -> float:
        """Return its area [m2]."""
        return float(self.outline.area)


def read_size(said: str) -> BedSize:
    """Return a size from words.

    Parameters
    ----------
    said
        Two lengths with a unit, or a pot or box, with or without its size.

    Raises
    ------
    ParameterError
        If it cannot be understood, has no unit, or is no size of a bed.

    Examples
    --------
    >>> size = read_size("12' x 6'")
    >>> round(size.length_m, 2), round(size.width_m, 2), size.us
    (3.66, 1.83, True)
    >>> read_size("2 by 4 m").length_m, read_size("a pot").kind, read_size("balcony box 1 m x 25 cm").width_m
    (4.0, 'pot', 0.25)
    """
    text = re.sub(r"[‘’′]", "'", re.sub(r"[“”″]", '"', str(said).strip().lower()))
    kind, rest = _container(text)
    sides, us = _sides(rest, said, kind)
    size = BedSize(length_m=max(sides), width_m=min(sides), kind=kind, us=us)
    return _checked(size, said)


def _container(text: str) -> tuple[str, str]:
    """Return "box", "pot" or "bed", and what is said beside that."""
    for kind, words in _CONTAINERS.items():
        found = re.search(rf"\b(?:{words})\b", text)
        if found:
            return kind, text[: found.start()] + " " + text[found.end() :]
    return "bed", re.sub(r"\bbeds?\b", " ", text)


def _sides(text: str, said: str, kind: str) -> tuple[tuple[float, float], bool]:
    """Return both sides [m], and whether they were said in feet or inches."""
    text = re.sub(r"\b(an?|one|of|wide|long|across|deep|about|the|round)\b", " ", text).strip(" ,;:")
    pair, one = _PAIR.fullmatch(text), _ONE.fullmatch(text)
    if pair is None and not (kind == "pot" and one) and not (kind != "bed" and not text):
        raise ParameterError("size", said, SIZE_HELP)
    if pair is not None:
        groups = pair.groups()
        last = groups[5]
        return (_metres(groups[:4], last, said), _metres(groups[4:], last, said)), last in US_UNITS
    if one is not None:
        across = _metres(one.groups(), one[2], said)
        return (across, across), one[2] in US_UNITS
    return (BOX_M if kind == "box" else (POT_M, POT_M)), False


def _metres(parts: tuple[str | None, ...], unit_else: str | None, said: str) -> float:
    """Return a length [m] of number, unit, inches and their unit; without a unit that of the other side."""
    value, unit, inches, _ = parts
    unit = unit or unit_else
    if not unit:
        raise ParameterError("size", said, f"said in feet or in metres: {SIZE_HELP}")
    metres = _number(value) * UNITS_M[unit]
    return metres + (_number(inches) * M_PER_IN if inches else 0.0)


def _number(text: str | None) -> float:
    return float(str(text).replace(",", "."))


def _checked(size: BedSize, said: str) -> BedSize:
    """Return the size, or refuse one that nobody can plant."""
    if size.contained:
        narrow, longest = CONTAINER_M
        fits = size.width_m >= narrow - 1e-9 and size.length_m <= longest + 1e-9
        if not fits or size.area_m2 < CONTAINER_LEAST_M2:
            what = (
                "a pot at least 40 cm (16 in) across, or a box of at least 60 x 20 cm (24 x 8 in); "
                "none longer than 2 m (6.5 ft)"
            )
            raise ParameterError("size", said, what)
        return size
    if size.width_m < NARROWEST_M - 1e-9:
        what = f'a bed at least {100 * NARROWEST_M:.0f} cm (2 ft) wide; a narrower one is a "box"'
        raise ParameterError("size", said, what)
    if size.length_m > LONGEST_M or size.length_m * size.width_m > LARGEST_M2:
        what = (
            f"at most {LONGEST_M:.0f} m (100 ft) long and {LARGEST_M2:.0f} square metres (1,080 square feet) "
            "large: plan more ground as a yard, with habitat new --yard my_yard"
        )
        raise ParameterError("size", said, what)
    return size

"""Sizes, sun, soil and wetness as people say them: each understood by one table, and told back."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from habitat.errors import ParameterError
from habitat.factors.classes import DRAINAGE, TEXTURES, plain, texture_number

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


@dataclass(frozen=True, slots=True)
class Understood:
    """A value and how it was understood, in words; None where nobody knows, which is not assessed."""

    value: float | None
    told: str


SUN_WORDS: dict[str, tuple[float, str]] = {
    **dict.fromkeys(
        ("full", "full sun", "sun", "sunny", "all day"), (7.0, "full sun: 6 h or more, taken as 7 h")
    ),
    **dict.fromkeys(
        ("part", "part sun", "part shade", "partial", "partial sun", "partial shade", "half", "half day",
         "half shade", "semi shade", "dappled"),
        (4.5, "part sun: 3 to 6 h, taken as 4.5 h"),
    ),
    **dict.fromkeys(
        ("shade", "shady", "full shade", "deep shade", "none"), (2.0, "shade: under 3 h, taken as 2 h")
    ),
}  # fmt: skip
"""Words for sun -> hours of direct sun on a clear summer day: 6 or more, 3 to 6, less (common practice of
extension texts); the hours taken lie well inside each."""

UNKNOWN_WORDS = frozenset(
    ("unknown", "dont know", "don't know", "do not know", "not known", "no idea", "not sure", "unsure", "?")
)


def read_sun(said: str | float) -> Understood:
    """Return hours of direct sun on a clear summer day, from words or hours.

    Raises
    ------
    ParameterError
        If it is no word of the table and no number of hours.

    Examples
    --------
    >>> read_sun("Full sun").value, read_sun("6.5 h").value, read_sun("part").told
    (7.0, 6.5, 'part sun: 3 to 6 h, taken as 4.5 h')
    """
    words = plain(said)
    if words in SUN_WORDS:
        return Understood(*SUN_WORDS[words])
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(?:h|hours?|hrs?)?\s*", str(said).lower())
    hours = _number(found[1]) if found else math.nan
    if not 0.0 <= hours <= 15.0:
        raise ParameterError("sun", said, "full, part, shade, or hours of direct sun a day from 0 to 15")
    return Understood(hours, f"{hours:g} h of sun a day")


_LOAM, _SAND, _CLAY = (float(TEXTURES.index(name) + 1) for name in ("loam", "sand", "clay"))
SOIL_WORDS: dict[str, tuple[float | None, str]] = {
    **dict.fromkeys(("sand", "sandy", "sandy soil", "beach", "gritty"), (_SAND, "sand")),
    **dict.fromkeys(
        ("loam", "loamy", "good", "normal", "average", "garden soil", "good garden soil", "crumbly", "rich"),
        (_LOAM, "loam"),
    ),
    **dict.fromkeys(("silt", "silty"), (float(TEXTURES.index("silt loam") + 1), "silt loam")),
    **dict.fromkeys(("clay", "clayey", "heavy", "heavy clay", "sticky", "gumbo"), (_CLAY, "clay")),
    **dict.fromkeys(
        ("poor", "bad", "thin", "lean", "stony", "rocky", "slow", "hard", "compacted", "fill", "rubble"),
        (None, "not known: the word does not say whether it is sand or clay"),
    ),
}
"""Words for soil -> number of the texture class they stand for, None where they do not tell (judgement). The
classes' own names and their usual letters (``SiL``) are understood too."""

TEXTURE_LETTERS = dict(
    zip(("s", "ls", "sl", "l", "sil", "si", "scl", "cl", "sicl", "sc", "sic", "c"), TEXTURES, strict=True)
)
"""Letters of the texture classes: Soil Survey Manual (2017), chapter 3."""


def read_soil(said: str) -> Understood:
    """Return the number of a texture class (1 sand to 12 clay) from words, None for one that is not known.

    Raises
    ------
    ParameterError
        If it is no word of the table.

    Examples
    --------
    >>> read_soil("sandy").value, read_soil("SiL").told, read_soil("poor").value, read_soil("clay loam").value
    (1.0, 'silt loam', None, 8.0)
    """
    words = plain(said)
    if words in UNKNOWN_WORDS:
        return Understood(None, "not known")
    if words in SOIL_WORDS:
        return Understood(*SOIL_WORDS[words])
    name = TEXTURE_LETTERS.get(words, words.removesuffix(" soil"))
    number = texture_number(name)
    if math.isnan(number):
        raise ParameterError(
            "soil", said, "sand, loam, clay or unknown; or a texture class such as silt loam"
        )
    return Understood(number, TEXTURES[int(number) - 1])


WETNESS_WORDS: dict[str, tuple[float, str]] = {
    **dict.fromkeys(("dry", "droughty", "fast", "drains fast"), (6.0, "dry: drains fast")),
    **dict.fromkeys(
        ("medium", "average", "normal", "moist", "good", "well drained", "in between"),
        (5.0, "medium: neither dries out fast nor stays wet"),
    ),
    **dict.fromkeys(
        ("wet", "damp", "soggy", "slow", "rain garden", "boggy", "swampy"),
        (3.0, "wet: stays wet for days after rain, no standing water"),
    ),
}
"""Words for wetness -> rank of the natural drainage class (1 very poorly to 7 excessively drained): somewhat
excessively, well, and somewhat poorly drained (judgement)."""


def read_wetness(said: str) -> Understood:
    """Return the rank of a drainage class (1 wet to 7 dry) from words, None for one that is not known.

    Raises
    ------
    ParameterError
        If it is no word of the table.

    Examples
    --------
    >>> read_wetness("Wet").value, read_wetness("unknown").value, read_wetness("poorly drained").value
    (3.0, None, 2.0)
    """
    words = plain(said)
    if words in UNKNOWN_WORDS:
        return Understood(None, "not known")
    if words in WETNESS_WORDS:
        return Understood(*WETNESS_WORDS[words])
    for rank, name in enumerate(DRAINAGE, start=1):
        if words == name:
            return Understood(float(rank), name)
    raise ParameterError("wetness", said, "dry, medium, wet or unknown")

"""Sun, soil, wetness and reaction as people say them: each understood by one table, and told back."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from habitat.errors import ParameterError
from habitat.factors.classes import DRAINAGE, TEXTURES, plain, texture_number


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
    hours = float(found[1].replace(",", ".")) if found else math.nan
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
    **dict.fromkeys(("poor", "poorly", "bad", "drains poorly", "poor drainage"), (2.0, "poorly drained")),
    **dict.fromkeys(("very poor", "very poorly", "standing water"), (1.0, "very poorly drained")),
    **dict.fromkeys(("moderate", "moderately", "fair", "ok", "okay"), (4.0, "moderately well drained")),
    **dict.fromkeys(("well", "drains well", "good drainage"), (5.0, "well drained")),
    **dict.fromkeys(("excessive", "very fast"), (7.0, "excessively drained")),
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


REACTION_WORDS = {"neutral": 7.0, "slightly acid": 6.3, "slightly alkaline": 7.6}
"""Words for reaction that name so narrow a range that its middle may stand for it (Soil Survey Manual 2017,
chapter 3: neutral 6.6 to 7.3, slightly acid 6.1 to 6.5, slightly alkaline 7.4 to 7.8)."""


def read_reaction(said: str) -> Understood:
    """Return a pH from a number, a range (its middle) or a word; None for words that are too wide for one.

    Raises
    ------
    ParameterError
        If it is none of these, or outside of 2 to 11.

    Examples
    --------
    >>> [read_reaction(text).value for text in ("6.5", "about 6", "6.2-6.8", "neutral", "acid")]
    [6.5, 6.0, 6.5, 7.0, None]
    """
    words = plain(said)
    if words in UNKNOWN_WORDS or words in ("acid", "acidic", "alkaline", "basic", "sweet", "sour"):
        return Understood(None, "not known: the word is too wide for a number")
    if words in REACTION_WORDS:
        return Understood(REACTION_WORDS[words], f"pH {REACTION_WORDS[words]:g}")
    value = _middle(said)
    if not 2.0 <= value <= 11.0:
        raise ParameterError("ph", said, "a pH from 2 to 11")
    return Understood(value, f"pH {value:g}")


def read_hours(said: str) -> Understood:
    """Return hours of sun from a number, a range (its middle), "6+", or a word as ``read_sun`` takes it.

    Examples
    --------
    >>> [read_hours(text).value for text in ("5.5", "6+", "4-5", "part shade")]
    [5.5, 6.0, 4.5, 4.5]
    """
    value = _middle(said)
    return Understood(value, f"{value:g} h") if 0.0 <= value <= 24.0 else read_sun(said)


def _middle(said: str) -> float:
    """Return a number that people write, or the middle of a range; NaN for none."""
    found = re.fullmatch(
        r"(?:about|around|approx\.?|ca\.?|~)?\s*(\d{1,2}(?:[.,]\d+)?)\s*(?:(?:-|–|to)\s*(\d{1,2}(?:[.,]\d+)?)|\+)?"
        r"\s*(?:h|hrs?|hours?)?",
        str(said).strip().lower(),
    )
    if found is None:
        return math.nan
    ends = [float(end.replace(",", ".")) for end in found.groups() if end]
    return sum(ends) / len(ends)

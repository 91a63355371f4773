"""What to bring next: the one addition that would raise certainty most for a volunteer's minutes."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Addition:
    """Something that a study may lack.

    any_of : layers or rasters of which one is enough. words : what to do. minutes : about what it takes a
    volunteer for a neighbourhood (judgement).
    """

    any_of: tuple[str, ...]
    words: str
    minutes: int


ADDITIONS = (
    Addition(("participants",), "the sign-up sheet: who takes part", 10),
    Addition(("buildings",), "building footprints, so that beds find their place", 15),
    Addition(("surface_m", "trees", "sun_h"), "trees, or heights of the surface, so that shade is known", 30),
    Addition(("ph",), "the soil survey's reaction (pH)", 30),
    Addition(("drainage",), "the soil survey's drainage", 10),
    Addition(("sand_pct", "texture"), "the soil survey's sand and clay", 10),
    Addition(
        ("paving", "walk"), "drives and walks, or each household's walk (lists/walk-sheets.pdf of a run)", 40
    ),
    Addition(("buried", "wires"), "overhead wires and buried lines, as far as their owners tell", 40),
    Addition(("plants",), "what grows already, as neighbours write it down", 60),
    Addition(("anchors",), "habitat that is there already, and what breeds in it", 30),
    Addition(("growers",), "what local growers have", 30),
    Addition(("soil_tests",), "a soil test from the largest beds", 60),
)
"""What changes most plans comes first: judgement."""


def next_step(given: Collection[str]) -> str:
    """Return the addition to make next, in words; "" where nothing of the list is lacking.

    Parameters
    ----------
    given
        Names of the layers and rasters that were read.

    Examples
    --------
    >>> next_step({"yards", "participants"})
    'building footprints, so that beds find their place (about 15 minutes)'
    """
    for one in ADDITIONS:
        if not any(name in given for name in one.any_of):
            return f"{one.words} (about {one.minutes} minutes)"
    return ""

"""What nobody knows of a yard: obstacles that no layer tells of, holes in maps, where the rest is from."""

from __future__ import annotations

import math

from habitat.factors import FACTORS
from habitat.ground.unseen import OBSTACLES, mapped_long_ago, unseen
from habitat.report.sheets.facts import YardFacts
from habitat.report.words.numbers import number
from habitat.report.words.text import listed, plain
from habitat.site.yards import COUNTED, NOT_ASSESSED
from habitat.sun.light import GIVEN
from habitat.sun.relief import SURFACE

UNSEEN_WORDS = {
    "trees": "trees",
    "paving": "drive and walks",
    "wires": "overhead wires",
    "buried": "buried lines",
    "fences": "fences",
    "water": "water",
    "septic": "a septic field",
}
"""What no layer tells of, in words."""


def unseen_of(facts: YardFacts) -> tuple[str, ...]:
    """Return which obstacles nobody knows of in a yard."""
    layers = facts.plan.layers
    frames = {name: frame for name in OBSTACLES if (frame := layers.frame(name)) is not None}
    told = facts.plan.site.walked
    found = facts.remembered("unseen", lambda: unseen(facts.plan.yards, frames, told, layers.only_drawn()))
    return tuple(found.get(facts.yard_id, ()))


def unseen_words(facts: YardFacts, last: str = "and") -> str:
    """Return what nobody knows of in a yard, in words; "" if every layer was given."""
    return listed([UNSEEN_WORDS[name] for name in unseen_of(facts)], last)


def old_words(facts: YardFacts) -> str:
    """Return one sentence on what is drawn as it was mapped long ago; "" if nothing is."""
    old = [f"{UNSEEN_WORDS.get(name, name)} as mapped in {year}" for name, year in _old(facts).items()]
    words = listed(old)
    return f"{words[0].upper()}{words[1:]}: newer ones are not drawn." if words else ""


def _old(facts: YardFacts) -> dict[str, int]:
    study, unknown = facts.plan.study, unseen_of(facts)
    old = mapped_long_ago({name: source.date for name, source in study.layers.items()}, study.study.date)
    return {name: year for name, year in old.items() if name not in unknown}


def sun_words(facts: YardFacts, hours: float) -> str:
    """Return the sun of a bed in words: at most so much where nobody knows of the trees that would shade it.

    Where the trees were mapped long ago, it says when.

    Heights of a surface and a raster of sun hours show crowns too, and hours that somebody counted hold
    whatever stands there.
    """
    words = number(hours, 1, "h")
    if math.isnan(hours) or not _by_layers(facts):
        return words
    if sun_is_at_most(facts):
        return f"at most {words} (no trees are known here)"
    year = _old(facts).get("trees")
    return f"{words} (trees as mapped in {year})" if year else words


def sun_is_at_most(facts: YardFacts) -> bool:
    """Return whether trees that nobody knows of may take of the sun that was worked out for a yard."""
    return "trees" in unseen_of(facts) and _by_layers(facts)


def _by_layers(facts: YardFacts) -> bool:
    """Return whether sun was worked out from layers of trees and buildings, and nobody saw it since."""
    if "sun" in facts.plan.site.walked.get(facts.yard_id, ()):
        return False
    return not any(told in source_of(facts, "sun_h") for told in (SURFACE, GIVEN, COUNTED))


def holes(facts: YardFacts) -> list[str]:
    """Return what is assessed and yet unknown in part of the yard, in words with the share."""
    assessed = [n for n in facts.plan.site.assessed if source_of(facts, n) != NOT_ASSESSED]
    shares = {n: 1.0 - known_share(facts, n) for n in assessed}
    return [f"{FACTORS[n].heading} in {s:.0%} of the yard" for n, s in shares.items() if s > 0.005]


def known_share(facts: YardFacts, need: str) -> float:
    """Return the share of the yard in which a factor is known; 1 if the survey does not say."""
    value = facts.site.get(f"{need}_known", 1.0)
    return float(value) if isinstance(value, (int, float)) and math.isfinite(value) else 1.0


def source_of(facts: YardFacts, need: str) -> str:
    """Return where what is known of a need in a yard is from, in words."""
    return plain(facts.site.get(f"{need}_source", ""), 40)

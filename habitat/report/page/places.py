"""How places of the corridor are called on the page."""

from __future__ import annotations

from habitat.report.words.text import plain
from habitat.terms import anchor_name, is_anchor


def place_words(place: object) -> str:
    """Return a yard or anchor in words.

    Examples
    --------
    >>> place_words("12-7"), place_words("anchor: Long Meadow")
    ('yard 12-7', 'Long Meadow')
    """
    name = plain(place, 300)
    return anchor_name(name) if is_anchor(name) else f"yard {name}"

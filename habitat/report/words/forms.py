"""Plants in the form in which they are bought, one or several: plugs, pots, packets of seed."""

from __future__ import annotations

import math

from habitat.planting.supply import plants_a_packet
from habitat.report.words.text import plain

FORMS = {
    "plug": ("plug", "plugs"),
    "pot": ("pot", "pots"),
    "bare root": ("bare-root plant", "bare-root plants"),
    "seed": ("packet of seed", "packets of seed"),
}
"""By form of the price list: what one and what several are called."""


def packets(count: int, spacing_m: float) -> int:
    """Return how many packets of seed a number of plants takes, spacing [m] as the plants' table has it.

    Examples
    --------
    >>> packets(54, 0.3), packets(1, 0.3), packets(0, 0.3)
    (3, 1, 0)
    """
    return math.ceil(count / plants_a_packet(spacing_m) - 1e-9)


def noun(many: int, form: str) -> str:
    """Return what one or several of a form are called; a form of somebody's own as it is.

    Examples
    --------
    >>> noun(1, "pot"), noun(2, "bare root"), noun(2, "seed"), noun(2, "liner")
    ('pot', 'bare-root plants', 'packets of seed', 'liner')
    """
    one, several = FORMS.get(form, (plain(form, 12), plain(form, 12)))
    return one if many == 1 else several


def bought(count: int, form: str, spacing_m: float) -> str:
    """Return what is bought for a number of plants.

    Examples
    --------
    >>> bought(3, "plug", 0.3), bought(1, "bare root", 2.0), bought(54, "seed", 0.3)
    ('3 plugs', '1 bare-root plant', '3 packets of seed')
    """
    many = packets(count, spacing_m) if form == "seed" else count
    return f"{many:,} {noun(many, form)}"


def after_count(count: int, form: str, spacing_m: float) -> str:
    """Return what stands after a number of plants: the form, or for seed how many packets.

    Examples
    --------
    >>> after_count(3, "plug", 0.3), after_count(54, "seed", 0.3)
    ('plugs', 'from 3 packets')
    """
    told = bought(count, form, spacing_m)
    return f"from {told.removesuffix(' of seed')}" if form == "seed" else told.split(" ", 1)[1]

"""Put one bed together: hosts in numbers, bloom in each season, structure, covered soil."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from habitat.arrays import Flags, Floats, Ints
from habitat.planting.communities._kernels import Kinds, Limits, Turns, put_together
from habitat.planting.communities.habits import GROUND, STRUCTURE, Habits
from habitat.planting.communities.rules import SEASONS, BedRules

MONEY_OF_GROUND = 10.0
"""What a square metre of bed costs beside its plants (soil work, mulch, ground layer), for comparing kinds:
judgement."""

FEW_KINDS = 8
"""Where fewer kinds may stand, a bed need not be covered by them: judgement."""

SEASON_BITS = tuple(sum(1 << m for m in months) for _, months in SEASONS)


@dataclass(frozen=True, slots=True)
class Palette:
    """What plants (P,) are to one yard, and to the meals of its butterflies (M, P).

    months : bloom with nectar, bit m for month m. nectar : value of the nectar, 0 and up. worth : share of a
    brood that one plant feeds, (M, P) as ``Facts.meals``, 0 where it is none of them. price : of one plant.
    liking (P,) : 0 to 1, which of like plants this yard takes, so that yards differ. most (P,) : how many can
    be had. tolerance (P,) : 0 to 1, how wide the ranges are in what was not assessed. supply (P,) : 1 where
    local growers have it, less where it must be ordered elsewhere. together (P, P) : which may stand in one
    bed, as ``habits.share_ground`` tells; None: all.
    """

    habits: Habits
    months: Ints
    nectar: Floats
    worth: Floats
    price: Floats
    liking: Floats
    most: Floats
    tolerance: Floats
    supply: Floats
    together: Flags | None = None

    @property
    def taste(self) -> Floats:
        """How much this yard takes to each plant: its own liking, and how much the plant bears."""
        return (0.4 + self.liking) * (0.6 + self.tolerance)


def rank(palette: Palette, fit: Floats) -> Turns:
    """Return the order in which plants are taken at a place, by their fit (P,) there; see ``compose``."""
    habits = palette.habits
    nectar = (palette.nectar > 0) & (palette.months > 0) & ~habits.woody
    add = _best_first(~habits.woody, _bloom_score(palette, fit))
    score = palette.taste * fit * (1.0 + 0.3 * palette.nectar) * palette.supply
    low = habits.layer == GROUND
    cover = palette.taste * fit * (1.0 + habits.evergreen)
    cover *= palette.supply / (3.0 + palette.price / habits.ground_m2)
    host = (palette.worth > 0).any(axis=0)  # a few hosts more would feed no brood
    return Turns(
        hosts=_rows([_best_first(worth > 0, _host_score(palette, fit, worth)) for worth in palette.worth]),
        bloom=_rows([add[(nectar & season)[add]] for season in _blooms(palette)]),
        others=add,
        rich=add[((palette.months > 0) & ~host)[add]],
        structure=_best_first(habits.layer == STRUCTURE, score),
        grasses=_best_first(low & habits.graminoid, cover),
        low=_best_first(low & ~habits.graminoid, cover),
    )


def _blooms(palette: Palette) -> Flags:
    """Return whether plants bloom in each season (3, P), woody ones too."""
    return np.array([palette.months & bits > 0 for bits in SEASON_BITS])


def _rows(rows: Sequence[Sequence[int] | Ints]) -> Ints:
    """Return rows of indices as one array, filled up with -1."""
    out = np.full((len(rows), max(map(len, rows), default=0)), -1, np.int64)
    for k, row in enumerate(rows):
        out[k, : len(row)] = row
    return out


def kinds_of(palette: Palette) -> Kinds:
    """Return a palette as compiled loops take it, for a place that is far from people."""
    habits, count = palette.habits, len(palette.months)
    none = np.zeros((0, 0), bool)
    return Kinds(
        ground_m2=np.ascontiguousarray(habits.ground_m2, float),
        layer=np.ascontiguousarray(habits.layer, np.int64),
        woody=np.ascontiguousarray(habits.woody, bool),
        most=np.ascontiguousarray(palette.most, float),
        calm_m2=np.full(count, np.inf),
        blooms=_blooms(palette),
        of_use=(palette.months > 0) | (palette.worth > 0).any(axis=0),
        worth=np.ascontiguousarray(palette.worth, float),
        together=none if palette.together is None else np.ascontiguousarray(palette.together, bool),
    )


def _best_first(which: Flags, score: Floats) -> Ints:
    kinds = np.flatnonzero(which)
    return kinds[np.lexsort((kinds, -np.round(score[kinds], 9)))]


def _host_score(palette: Palette, fit: Floats, worth: Floats) -> Floats:
    """Return how good hosts are for one butterfly: by a brood's ground and money, and whom else they feed."""
    per_brood = 1.0 / np.maximum(worth, 1e-9)
    cost = per_brood * (palette.price + MONEY_OF_GROUND * palette.habits.ground_m2)
    others = (palette.worth > 0).sum(axis=0)
    return palette.taste * others * fit * palette.supply / (20.0 + cost)


def _bloom_score(palette: Palette, fit: Floats) -> Floats:
    """Return how good plants are for nectar: by how rich, how long, for how much money and ground."""
    length = np.array([int(m).bit_count() for m in palette.months], float)
    score = palette.taste * fit * (palette.nectar + 0.5 * np.sqrt(length)) * palette.supply
    return score / (2.0 + palette.price + MONEY_OF_GROUND * palette.habits.ground_m2)


@dataclass(frozen=True, slots=True)
class Place:
    """A bed to be filled: ground [m2], width across [m], whether a wall or fence is behind it.

    open_to (P,) : which plants may stand here. fit (P,) : how well [0-1]. structured : shrubs stand in it
    already. calm_m2 (P,) : ground [m2] as far from people as each plant must stand; None: no plant must.
    yard_m2 : ground of all beds of the yard, where more is known than this one. drawn_times : how many times
    this ground it takes as drawn, by which it is large or small.
    """

    area_m2: float
    width_m: float
    backed: bool
    open_to: Flags
    fit: Floats
    structured: bool = False
    calm_m2: Floats | None = None
    yard_m2: float = 0.0
    drawn_times: float = 1.0


def may_stand(place: Place, habits: Habits, rules: BedRules) -> Flags:
    """Return which plants (P,) a bed may hold by the height that its width bears.

    Shrubs may be taller where a wall or fence is behind them, and in beds wide enough to walk around; trees
    and vines have places of their own. A pot or box is for plants of which it holds three (judgement).
    """
    factor = rules.height_to_width_backed if place.backed else rules.height_to_width
    herbs = max(factor * place.width_m, rules.any_width_m)
    top = np.where(habits.woody, max(factor, 1.0) * place.width_m, herbs)
    out = place.open_to & ~habits.tree & ~habits.vine & (habits.height_m <= top + 1e-9)
    if place.area_m2 >= rules.pot_m2:
        return out
    third = place.area_m2 * rules.cover_in(place.area_m2) / 3.0
    return out & (habits.ground_m2 <= max(third, np.sqrt(0.75) * rules.ground_spacing_m**2) + 1e-9)


def compose(place: Place, palette: Palette, rules: BedRules, wanted: Sequence[int]) -> Ints:
    """Return how many of each plant (P,) a bed gets.

    Parameters
    ----------
    place
        The bed; its ``open_to`` is narrowed to what its width bears.
    palette
        Plants as this yard sees them.
    rules
        Shares, heights, groups.
    wanted
        Meals to set, the first first; further ones only while the seasons' ground lasts.

    Returns
    -------
    Ints
        Zeros where fewer than three kinds would cover less than two thirds of the bed: no community.
    """
    return compose_each(place, kinds_of(palette), rank(palette, place.fit), palette.habits, rules, [wanted])[
        0
    ]


def compose_each(
    place: Place,
    kinds: Kinds,
    turns: Turns,
    habits: Habits,
    rules: BedRules,
    orders: Sequence[Sequence[int]],
) -> Ints:
    """Return how many of each plant (N, P) a bed gets for each of N orders of meals; see ``compose``."""
    open_to = may_stand(place, habits, rules)
    if place.calm_m2 is not None:
        kinds = kinds._replace(calm_m2=np.ascontiguousarray(place.calm_m2, float))
    return np.asarray(put_together(kinds, turns, limits_of(place, rules, open_to), open_to, _rows(orders)))


def limits_of(place: Place, rules: BedRules, open_to: Flags) -> Limits:
    """Return what a bed may hold, and what it should."""
    area, kinds, cover = place.area_m2, int(open_to.sum()), rules.cover_in(place.area_m2)
    small = area * place.drawn_times < rules.share_from_m2
    usual = np.array([rules.kind_share_max, rules.ground_kind_share_max])
    shares = np.column_stack([usual, np.maximum(usual, rules.brood_share_max)])
    shares = np.maximum(1.0 if small else 1.0 / max(kinds, 1), shares)
    structured = place.structured or area < rules.share_from_m2
    varied = kinds >= FEW_KINDS and area >= rules.pot_m2
    return Limits(
        area_m2=float(area),
        covered_m2=float(area * cover),
        room_m2=np.minimum(shares, 1.0) * area,
        cover_times=float(cover),
        part_brood=float(rules.part_brood),
        fed_m2=float((1.0 - rules.ground_share) * cover * area),
        least_m2=float(2.0 / 3.0 * rules.cover * area) if varied else 0.0,
        ground_share=float(rules.ground_share),
        structure_m2=0.0 if structured else float(rules.structure_share * area),
        graminoid_share=float(rules.graminoid_share),
        season_kinds=int(rules.season_kinds_in(area, place.yard_m2)),
        enough_kinds=int(rules.kinds_in(area)),
        yard_kinds=int(rules.yard_kinds_in(area, place.yard_m2)),
        kinds=kinds,
        sizes=np.array(rules.group_sizes, np.int64),
    )

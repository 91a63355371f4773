"""Put one bed together: hosts in numbers, bloom in each season, structure, covered soil."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from habitat.arrays import Flags, Floats, Ints
from habitat.planting.communities.habits import GROUND, SEASON, STRUCTURE, Habits
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


@dataclass(frozen=True, slots=True)
class Ranks:
    """The order in which plants of a palette are taken where they fit so well: the best first.

    hosts : by meal, those that serve. bloom : herbs with nectar, by season. others : all herbs.
    structure, grasses, low : by layer. blooms (3, P) : whether a plant blooms in a season, woody ones too.
    ground_m2, layer, most, woody : of each plant, as plain numbers, which are read one by one.
    """

    hosts: tuple[Ints, ...]
    bloom: tuple[Ints, ...]
    others: Ints
    structure: Ints
    grasses: Ints
    low: Ints
    blooms: Flags
    ground_m2: list[float]
    layer: list[int]
    most: list[float]
    woody: list[bool]


def rank(palette: Palette, fit: Floats) -> Ranks:
    """Return the order in which plants are taken at a place, by their fit (P,) there; see ``compose``."""
    habits = palette.habits
    blooms = np.array([palette.months & bits > 0 for bits in SEASON_BITS])
    nectar = (palette.nectar > 0) & (palette.months > 0) & ~habits.woody
    add = _best_first(~habits.woody, _bloom_score(palette, fit))
    score = palette.taste * fit * (1.0 + 0.3 * palette.nectar) * palette.supply
    low = habits.layer == GROUND
    cover = palette.taste * fit * (1.0 + habits.evergreen)
    cover *= palette.supply / (3.0 + palette.price / habits.ground_m2)
    return Ranks(
        hosts=tuple(_best_first(worth > 0, _host_score(palette, fit, worth)) for worth in palette.worth),
        bloom=tuple(add[(nectar & season)[add]] for season in blooms),
        others=add,
        structure=_best_first(habits.layer == STRUCTURE, score),
        grasses=_best_first(low & habits.graminoid, cover),
        low=_best_first(low & ~habits.graminoid, cover),
        blooms=blooms,
        ground_m2=habits.ground_m2.tolist(),
        layer=habits.layer.tolist(),
        most=palette.most.tolist(),
        woody=habits.woody.tolist(),
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


@dataclass(slots=True)
class Bed:
    """A bed being put together: plants (P,), how many kinds may stand in it, ground taken by layer [m2].

    open_to (P,) : which may still come in.
    """

    place: Place
    palette: Palette
    rules: BedRules
    ranks: Ranks
    counts: Ints
    kinds: int
    open_to: Flags
    taken: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])

    @property
    def left_m2(self) -> float:
        """Ground that nothing takes yet [m2]."""
        return self.place.area_m2 * self.rules.cover_in(self.place.area_m2) - sum(self.taken)

    def room_of(self, p: int, *, brood: bool = False) -> float:
        """Return the ground [m2] that one kind may still take: its share of the bed, or one group of it."""
        rules, area = self.rules, self.place.area_m2
        most = rules.ground_kind_share_max if self.ranks.layer[p] == GROUND else rules.kind_share_max
        each, count = self.ranks.ground_m2[p], int(self.counts[p])
        least = rules.group_sizes[0] * each
        had = (self.ranks.most[p] - count) * each
        most = max(most, rules.brood_share_max) if brood else most
        small = area * self.place.drawn_times < rules.share_from_m2
        share = 1.0 if small else max(most, 1.0 / max(self.kinds, 1))
        return min(max(share * area, least) - count * each, self.left_m2, had, self._calm_left(p))

    def _calm_left(self, p: int) -> float:
        """Return the ground [m2] left that lies so far from people as a plant must stand."""
        calm = self.place.calm_m2
        if calm is None or not math.isfinite(calm[p]):
            return math.inf
        sharing = calm <= calm[p]
        taken = self.counts[sharing] @ self.palette.habits.ground_m2[sharing]
        return float(self.rules.cover_in(self.place.area_m2) * calm[p] - taken)

    def add(self, p: int, count: int) -> None:
        """Set some plants; what does not share ground with them may no longer come in."""
        self.counts[p] += count
        if self.palette.together is not None:
            self.open_to &= self.palette.together[p]
        self.taken[self.ranks.layer[p]] += count * self.ranks.ground_m2[p]

    def in_bloom(self) -> list[int]:
        """Return how many kinds bloom in each season."""
        return [int(n) for n in (self.ranks.blooms & (self.counts > 0)).sum(axis=1)]


def may_stand(place: Place, habits: Habits, rules: BedRules) -> Flags:
    """Return which plants (P,) a bed may hold by the height that its width bears.

    Shrubs may be taller where a wall or fence is behind them, and in beds wide enough to walk around; trees
    and vines have places of their own.
    """
    factor = rules.height_to_width_backed if place.backed else rules.height_to_width
    herbs = max(factor * place.width_m, rules.any_width_m)
    top = np.where(habits.woody, max(factor, 1.0) * place.width_m, herbs)
    return place.open_to & ~habits.tree & ~habits.vine & (habits.height_m <= top + 1e-9)


def compose(
    place: Place, palette: Palette, rules: BedRules, wanted: Sequence[int], ranks: Ranks | None = None
) -> Ints:
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
    ranks
        As ``rank`` returns it, where it is known already.

    Returns
    -------
    Ints
        Zeros where fewer than three kinds would cover less than two thirds of the bed: no community.
    """
    open_to = may_stand(place, palette.habits, rules)
    none = np.zeros(len(palette.habits), np.int64)
    bed = Bed(place, palette, rules, ranks or rank(palette, place.fit), none, int(open_to.sum()), open_to)
    lasts = (1.0 - rules.ground_share) * rules.cover_in(place.area_m2) * place.area_m2
    for turn, meal in enumerate(wanted):
        if turn == 0 or sum(bed.taken) < lasts:
            _feed(bed, meal)
    _bloom(bed)
    _structure(bed)
    enough = rules.kinds_in(place.area_m2)
    _vary(bed, enough)
    _enrich(bed)
    _cover(bed)
    kinds = int((bed.counts > 0).sum())
    thin = sum(bed.taken) < 2.0 / 3.0 * rules.cover * place.area_m2
    thin &= bed.kinds >= FEW_KINDS and place.area_m2 >= rules.pot_m2
    if kinds < min(enough, bed.kinds) or thin:
        return np.zeros(len(palette.habits), np.int64)
    return bed.counts


def odd(count: float, sizes: Iterable[int] = (3, 5, 7, 9)) -> int:
    """Return the least whole number of groups of odd sizes that holds so many plants.

    Examples
    --------
    >>> odd(1), odd(4), odd(9), odd(11)
    (3, 5, 9, 14)
    """
    sizes = tuple(sizes)
    need = math.ceil(count - 1e-9)
    if need <= sizes[-1]:
        return next(size for size in sizes if size >= need)
    groups = -(-need // sizes[-1])
    return groups * next(size for size in sizes if size * groups >= need)


def _number(bed: Bed, p: int, need: float, *, brood: bool = False) -> int:
    """Return how many are set for a need: woody ones singly, herbs in groups; 0 where there is no room."""
    each = bed.ranks.ground_m2[p]
    count = max(1, math.ceil(need - 1e-9)) if bed.ranks.woody[p] else odd(need, bed.rules.group_sizes)
    return count if count * each <= bed.room_of(p, brood=brood) + 1e-9 else 0


def _feed(bed: Bed, meal: int) -> None:
    """Set the hosts of one brood: the kind that needs least ground, as it fits and as it is liked."""
    worth = bed.palette.worth[meal]
    fed = float(worth @ bed.counts)
    if fed >= 1.0 - 1e-9:
        return
    hosts = bed.ranks.hosts[meal]
    for p in hosts[bed.open_to[hosts]]:
        need = (1.0 - fed) / float(worth[p])
        number = _number(bed, int(p), need, brood=True)
        if number > 0:
            bed.add(int(p), number)
            return


def _bloom(bed: Bed) -> None:
    """Set groups until each season has its kinds in bloom, the season with fewest first."""
    want = bed.rules.season_kinds_in(bed.place.area_m2, bed.place.yard_m2)
    for _ in range(3 * want):
        short = [(have, q) for q, have in enumerate(bed.in_bloom()) if have < want]
        ground = bed.rules.ground_share * bed.place.area_m2 * (0.5 if short else 1.0)
        if not any(_add_bloom(bed, bed.ranks.bloom[q], ground) for _, q in sorted(short)):
            return


def _vary(bed: Bed, enough: int) -> None:
    """Set a group more while a bed has fewer kinds than a community takes."""
    for _ in range(enough - int((bed.counts > 0).sum())):
        if not _add_bloom(bed, bed.ranks.others, 0.0):
            return


def _enrich(bed: Bed) -> None:
    """Set groups of nectar kinds more where one bed must bring many of the kinds that a yard wants."""
    host = (bed.palette.worth > 0).any(axis=0)
    of_use = (bed.palette.months > 0) | host
    kinds = bed.ranks.others[(of_use & ~host)[bed.ranks.others]]  # a few hosts more would feed no brood
    want = bed.rules.yard_kinds_in(bed.place.area_m2, bed.place.yard_m2)
    for _ in range(want - int((bed.counts[of_use] > 0).sum())):
        if not _add_bloom(bed, kinds, 0.5 * bed.rules.ground_share * bed.place.area_m2):
            return


def _add_bloom(bed: Bed, kinds: Ints, keep_m2: float) -> bool:
    """Set a group of the first new one of some kinds; whether there was room beside the ground layer."""
    least = min(3, bed.rules.group_sizes[0])
    for p in kinds[bed.open_to[kinds] & (bed.counts[kinds] == 0)]:
        number = _number(bed, int(p), least)
        ground = number * bed.ranks.ground_m2[p]
        keep = 0.0 if bed.ranks.layer[p] == GROUND else keep_m2 - bed.taken[GROUND]
        if number and ground <= bed.left_m2 - max(0.0, keep) + 1e-9:
            bed.add(int(p), number)
            return True
    return False


def _structure(bed: Bed) -> None:
    """Set lasting structure where there is none: a few tall herbs or grasses, or a shrub in a large bed."""
    palette, share = bed.palette, bed.rules.structure_share * bed.place.area_m2
    small = bed.place.area_m2 < bed.rules.share_from_m2
    if small or bed.place.structured or bed.taken[STRUCTURE] >= 0.5 * share:
        return
    kinds = bed.ranks.structure[bed.open_to[bed.ranks.structure] & (bed.counts[bed.ranks.structure] == 0)]
    each = palette.habits.ground_m2[kinds]
    for p in kinds[each * np.where(palette.habits.woody[kinds], 1, 3) <= 2.0 * share]:
        number = _number(bed, int(p), 1 if palette.habits.woody[p] else 3)
        if number:
            bed.add(int(p), number)
            return


def _cover(bed: Bed) -> None:
    """Cover what is left of the soil: low kinds, sedges and grasses among them; else more of the rest."""
    palette = bed.palette
    both = [kinds[bed.open_to[kinds]] for kinds in (bed.ranks.grasses, bed.ranks.low)]
    left = max(0.0, bed.left_m2)
    shares = (bed.rules.graminoid_share, 1.0) if all(map(len, both)) else (1.0, 1.0)
    for kinds, share in zip(both, shares, strict=True):
        _fill(bed, kinds[:2], share * left)
    for kinds in both:
        _fill(bed, kinds[2:3], bed.left_m2)
    standing = np.flatnonzero((bed.counts > 0) & (palette.habits.layer == SEASON))
    smallest = standing[
        np.lexsort((standing, np.round(bed.counts[standing] * palette.habits.ground_m2[standing], 9)))
    ]
    for p in smallest:
        step = 2.0 * bed.ranks.ground_m2[p]
        while step <= min(bed.left_m2, bed.room_of(int(p))) + 1e-9:
            bed.add(int(p), 2)


def _fill(bed: Bed, kinds: Ints, ground_m2: float) -> None:
    """Set some kinds over so much ground, in equal parts, each of at least a group."""
    least = bed.rules.group_sizes[0]
    for k, p in enumerate(kinds):
        if not bed.open_to[p]:
            continue
        each = bed.ranks.ground_m2[p]
        part = min(ground_m2 / (len(kinds) - k), bed.room_of(int(p)), bed.left_m2)
        number = math.floor(part / each + 1e-9)
        if number + int(bed.counts[p]) >= least and number > 0:
            bed.add(int(p), number)
            ground_m2 -= number * each

"""The plain twin of the compiled loops that put beds together: one plant after another."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np

from habitat.planting.communities.compose import FEW_KINDS, SEASON_BITS, Palette, Place, may_stand, rank
from habitat.planting.communities.habits import GROUND, SEASON, STRUCTURE
from habitat.planting.communities.rules import BedRules


def plain_ranks(palette, fit):
    """Return the order in which plants are taken, and what is read of them one by one."""
    turns, habits = rank(palette, fit), palette.habits
    return SimpleNamespace(
        hosts=[row[row >= 0] for row in turns.hosts], bloom=[row[row >= 0] for row in turns.bloom],
        others=turns.others, structure=turns.structure, grasses=turns.grasses, low=turns.low,
        blooms=np.array([palette.months & bits > 0 for bits in SEASON_BITS]),
        ground_m2=habits.ground_m2, layer=habits.layer, most=palette.most, woody=habits.woody,
    )  # fmt: skip


@dataclass(slots=True)
class Bed:
    """A bed being put together: plants (P,), how many kinds may stand in it, ground taken by layer [m2].

    open_to (P,) : which may still come in.
    """

    place: Place
    palette: Palette
    rules: BedRules
    ranks: SimpleNamespace
    counts: np.ndarray
    kinds: int
    open_to: np.ndarray
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


def plain_compose(place, palette, rules, wanted):
    """Return how many of each plant (P,) a bed gets; as ``habitat.planting.communities.compose.compose``."""
    open_to = may_stand(place, palette.habits, rules)
    none = np.zeros(len(palette.habits), np.int64)
    bed = Bed(place, palette, rules, plain_ranks(palette, place.fit), none, int(open_to.sum()), open_to)
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


def odd(count: float, sizes=(3, 5, 7, 9)) -> int:
    """Return the least whole number of groups of odd sizes that holds so many plants."""
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


def _add_bloom(bed: Bed, kinds, keep_m2: float) -> bool:
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


def _fill(bed: Bed, kinds, ground_m2: float) -> None:
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

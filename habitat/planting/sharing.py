"""What yards share that choose in turn: growers' stock, and each kind in no more yards than its share."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from habitat.knowledge.names import resolve_plants
from habitat.knowledge.tables import Knowledge
from habitat.planting.communities.habits import GROUND, Habits
from habitat.planting.supply import Stock
from habitat.planting.types import Choice
from habitat.settings.planting import PlantingSettings

FREE_YARDS = 4
"""Every kind may stand in this many yards, however few are planned: judgement."""


@dataclass(slots=True)
class YardShares:
    """How many yards have a kind while yards choose in turn, and in which share of them it may stand.

    Only kinds in ``most`` are counted. What a yard may plant hangs on those before it alone, so
    that who joins later changes no plan, and no stretch of a street has more of a kind than its share.
    """

    most: Mapping[str, float]
    taken: dict[str, int] = field(default_factory=dict)

    def full(self, turn: int) -> frozenset[str]:
        """Return the kinds that the yard at a turn (from 1) may not have, as far as is known.

        Examples
        --------
        >>> shares = YardShares({"aster": 0.5, "cedar": 0.0})
        >>> for _ in range(4):
        ...     shares.give({"aster", "violet"})
        >>> sorted(shares.full(9)), sorted(shares.full(10))
        (['aster', 'cedar'], ['cedar'])
        """
        return frozenset(p for p in self.most if self.taken.get(p, 0) >= self._limit(p, turn))

    def _limit(self, plant: str, turn: int) -> int:
        # a share is given in decimals: 0.29 x 100 is 28.999999999999996
        limit = math.floor(self.most[plant] * turn + 1e-9)
        return max(FREE_YARDS, limit) if self.most[plant] > 0 else 0

    def hold(self, plants: Iterable[str], turn: int) -> bool:
        """Return whether the yard at a turn may have all of some kinds."""
        return self.full(turn).isdisjoint(plants)

    def give(self, plants: Iterable[str]) -> None:
        """Count a yard that has some kinds."""
        for plant in set(plants) & set(self.most):
            self.taken[plant] = self.taken.get(plant, 0) + 1


def shares_of(plants: Sequence[str], habits: Habits, settings: PlantingSettings) -> dict[str, float]:
    """Return in which share of the yards each kind may stand, where that is not all of them.

    Parameters
    ----------
    plants, habits
        Kinds that may be chosen, as beds see them; kinds of the ground layer hold the soil everywhere.
    settings
        ``kind_yards_max`` of all, ``caps`` of single kinds (by scientific name).

    Examples
    --------
    >>> import pandas as pd
    >>> from habitat.planting.communities.habits import read_habits
    >>> from habitat.planting.communities.rules import BedRules
    >>> table = pd.DataFrame({
    ...     "form": ["forb", "tree", "forb"], "height_m": [0.9, 12.0, 0.2], "spread_m": [0.5, 5.0, 0.3],
    ...     "spacing_m": [0.5, 3.0, 0.3]})
    >>> habits = read_habits(table, BedRules())
    >>> shares_of(["aster", "cedar", "violet"], habits, PlantingSettings(caps={"cedar": 0.1}))
    {'aster': 0.5, 'cedar': 0.1}
    """
    upper = {p for p, layer in zip(plants, habits.layer, strict=True) if layer != GROUND}
    usual = {p: settings.kind_yards_max for p in plants if p in upper}
    capped = {p: share for p, share in settings.caps.items() if p in set(plants)}
    return {p: share for p, share in (usual | capped).items() if share < 1.0}


def by_scientific_name(settings: PlantingSettings, knowledge: Knowledge) -> PlantingSettings:
    """Return settings whose ``caps`` and ``favoured`` name plants as the tables do, without unknown ones."""

    def names(given: Sequence[str]) -> list[str | None]:
        return [match.accepted for match in resolve_plants(list(given), knowledge)]

    capped = zip(names(list(settings.caps)), settings.caps.values(), strict=True)
    caps = {plant: share for plant, share in capped if plant is not None}
    favoured = [plant for plant in names(settings.favoured) if plant is not None]
    return settings.model_copy(update={"caps": caps, "favoured": favoured})


@dataclass(slots=True)
class Turns:
    """What is left for the next: growers' stock and kinds, as members leave them; nobody else buys for sure.

    before : by yard, how many members choose before it.
    """

    stock: Stock
    shares: YardShares
    members: frozenset[str]
    before: dict[str, int]

    @classmethod
    def start(
        cls, stock: Stock, most: Mapping[str, float], yard_ids: Sequence[str], members: Collection[str]
    ) -> Turns:
        """Begin with yards in order, some of them members; ``most`` as ``shares_of`` returns it."""
        counts = np.cumsum([0, *(i in members for i in yard_ids)])
        before = {i: int(n) for i, n in zip(yard_ids, counts, strict=False)}
        return cls(stock, YardShares(most), frozenset(members), before)

    def waves(self, yard_ids: Sequence[str], most: int) -> Iterator[list[str]]:
        """Yield yards in order, at most so many members at a time, whoever else stands among them.

        Examples
        --------
        >>> turns = Turns.start(Stock({}), {}, ["a", "x", "b", "c", "y"], {"a", "b", "c"})
        >>> list(turns.waves(["a", "x", "b", "c", "y"], 2))
        [['a', 'x', 'b'], ['c'], ['y']]
        """
        total = sum(yard in self.members for yard in yard_ids)

        def wave(yard: str) -> int:
            before = self.before[yard]
            return before // max(most, 1) if before < total else total

        for _, some in groupby(yard_ids, wave):
            yield list(some)

    def widespread(self, yard_id: str) -> frozenset[str]:
        """Return the kinds that stand in so many yards that a yard may not have them."""
        return self.shares.full(self.before[yard_id] + 1)

    def take(self, yard_id: str, choice: Choice, gone: frozenset[str]) -> bool:
        """Take a choice's plants, and return whether they last and no kind is in too many yards.

        Who is no member takes nothing from others: its plan is as if it joined alone.
        """
        member, kinds = yard_id in self.members, {a.plant for a in choice.allocations if a.count > 0}
        stock = self.stock if member else self.stock.copy()
        if not self.shares.hold(kinds, self.before[yard_id] + 1) or not stock.take(choice, gone):
            return False
        if member:
            self.shares.give(kinds)
        return True

    def give(
        self, yard_id: str, counts: Mapping[str, float], kinds: Collection[str], gone: frozenset[str]
    ) -> None:
        """Take plants that are settled."""
        if yard_id in self.members:
            self.stock.give(counts, gone)
            self.shares.give(kinds)

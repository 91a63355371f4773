"""Room of beds as a drawing found it: what a bed holds where kinds stand side by side.

The program counts room by how many plants of each kind fill a site alone. Where kinds meet, a little is lost,
so that a bed which is full by that count may hold less.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from habitat.planting.facts import Facts
from habitat.planting.types import BedSite, Choice


@dataclass(frozen=True, slots=True)
class RoomFound:
    """What drawings found too full.

    share : by site, the share of its room that plants found a place on. held : how many found one, by site
    and plant.
    """

    share: dict[int, float] = field(default_factory=dict)
    held: dict[tuple[int, str], int] = field(default_factory=dict)

    def after(
        self, choice: Choice, short: Mapping[tuple[int, str], int], sites: Sequence[BedSite], facts: Facts
    ) -> RoomFound:
        """Return this with what one more drawing found.

        Parameters
        ----------
        choice
            What was chosen, with what stands there for good.
        short
            How many of it found no place, by site and plant.
        sites
            Bed sites with the room beside what stands there for good.
        """
        order = {plant: p for p, plant in enumerate(facts.plants)}
        share, held = dict(self.share), dict(self.held)
        full = {site_id for site_id, _ in short}
        for site in sites:
            if site.site_id not in full:
                continue
            fixed = site.grown.fixed if site.grown else ()
            mine = [a for a in choice.allocations if a.site_id == site.site_id and a not in fixed]
            stood = {a.plant: a.count - short.get((site.site_id, a.plant), 0) for a in mine}
            share[site.site_id] = sum(n / max(site.capacity[order[p]], 1) for p, n in stood.items())
            held |= {(site.site_id, plant): n for plant, n in stood.items()}
        return RoomFound(share, held)

    def less_room(self, site: BedSite, facts: Facts) -> BedSite:
        """Return a bed site with the room that drawings found there."""
        if site.site_id not in self.share:
            return site
        room = np.floor(site.capacity * min(1.0, self.share[site.site_id]) + 1e-9).astype(np.int64)
        held = np.array([self.held.get((site.site_id, plant), 0) for plant in facts.plants], np.int64)
        return replace(site, capacity=np.minimum(site.capacity, np.maximum(room, held)))

"""Capacity of beds as drawings observe it: what a bed holds where kinds stand side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from habitat.planting.choice.facts import Facts
from habitat.planting.types import BedSite, Choice


@dataclass(frozen=True, slots=True)
class ObservedCapacity:
    """Capacity of bed sites that drawings could not fill with all that was chosen.

    used_share : by site, the share of its counted capacity that plants found a place on. placed : how many
    found one, by site and plant. ground : by site, the share of its ground to put a community together for.
    fit : the fit [0-1] of what fell below the least class where it was drawn, by site and plant. times : by
    site, how many times the ground counted a bed took as drawn, where that made a large bed of one kind.
    """

    used_share: dict[int, float] = field(default_factory=dict)
    placed: dict[tuple[int, str], int] = field(default_factory=dict)
    ground: dict[int, float] = field(default_factory=dict)
    fit: dict[tuple[int, str], float] = field(default_factory=dict)
    times: dict[int, float] = field(default_factory=dict)

    def after(
        self,
        choice: Choice,
        short: Mapping[tuple[int, str], int],
        sites: Sequence[BedSite],
        facts: Facts,
        fallen: Mapping[tuple[int, str], float] | None = None,
        times: Mapping[int, float] | None = None,
    ) -> ObservedCapacity:
        """Return this with what one more drawing observed.

        Parameters
        ----------
        choice
            What was chosen, with what stands there for good.
        short
            How many of it found no place, by site and plant.
        sites
            Bed sites with the room beside what stands there for good.
        fallen
            The fit [0-1] of what fell below the least class as drawn, by site and plant.
        times
            How many times the ground counted large beds of one kind took, by site.
        """
        order = {plant: p for p, plant in enumerate(facts.plants)}
        used, placed, ground = dict(self.used_share), dict(self.placed), dict(self.ground)
        full = {site_id for site_id, _ in short}
        for site in sites:
            if site.site_id not in full:
                continue
            fixed = site.grown.fixed if site.grown else ()
            mine = [a for a in choice.allocations if a.site_id == site.site_id and a not in fixed]
            stood = {a.plant: a.count - short.get((site.site_id, a.plant), 0) for a in mine}
            used[site.site_id] = sum(n / max(site.capacity[order[p]], 1) for p, n in stood.items())
            placed |= {(site.site_id, plant): n for plant, n in stood.items()}
            cell = {a.plant: float(facts.cell_m2[order[a.plant]]) for a in mine}
            wanted = sum(a.count * cell[a.plant] for a in mine)
            found = sum(n * cell[plant] for plant, n in stood.items()) / max(wanted, 1e-9)
            ground[site.site_id] = ground.get(site.site_id, 1.0) * min(0.98, found)
        fit = self.fit | dict(fallen or {})
        return ObservedCapacity(used, placed, ground, fit, self.times | dict(times or {}))

    def limit(self, site: BedSite, facts: Facts) -> BedSite:
        """Return a bed site with no more capacity, and no more fit, than drawings observed there."""
        observed = np.array([self.fit.get((site.site_id, plant), np.inf) for plant in facts.plants])
        if np.isfinite(observed).any():
            site = replace(site, fit=np.minimum(site.fit, observed))
        if site.site_id in self.times:
            site = replace(site, drawn_times=self.times[site.site_id])
        if site.site_id not in self.used_share:
            return site
        room = np.floor(site.capacity * min(1.0, self.used_share[site.site_id]) + 1e-9).astype(np.int64)
        held = np.array([self.placed.get((site.site_id, plant), 0) for plant in facts.plants], np.int64)
        return replace(
            site,
            capacity=np.minimum(site.capacity, np.maximum(room, held)),
            area_m2=site.area_m2 * self.ground.get(site.site_id, 1.0),
        )

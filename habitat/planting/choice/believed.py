"""The habitat that the program believes a plan gives, butterfly by butterfly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from habitat.planting.choice.facts import habitat_m2
from habitat.planting.choice.problem import YardProblem
from habitat.planting.choice.program import open_before


def habitats(problem: YardProblem, counts: NDArray[np.int64]) -> dict[str, float]:
    """Return the habitat [m2] per butterfly that the program believes in; spares are no part of a brood."""
    facts, standing = problem.facts, problem.standing
    taken = np.flatnonzero(counts)
    grown_by = np.bincount(problem.plant[taken], (counts * problem.fit)[taken], len(facts.plants))
    cover = (problem.chord_a + problem.chord_b * grown_by[:, None]).min(axis=1)
    months, need = open_before(problem), facts.need
    grown = problem.plant[taken]
    for p in grown:
        months |= int(facts.months[p])
    kept = (
        True,
        len(taken) > 0 or len(standing.plants) > 0,
        standing.stems or bool(facts.stems[grown].any()),
        standing.bark or bool(facts.bark[grown].any()),
    )
    out = {}
    for b, butterfly in enumerate(facts.butterflies):
        eaten = facts.preference[b][grown]
        leaf = float(standing.leaf_m2[b] + (cover * facts.preference[b])[grown_by > 0].sum())
        fed = float(standing.fed[b] + (counts[taken] * eaten / need[grown]).sum())
        nectar = _nectar(int(facts.flight[b]), months) if facts.takes_nectar[b] else 1.0
        out[butterfly] = habitat_m2(leaf, fed, nectar, kept[int(facts.winter[b])], problem.settings.enough_m2)
    return out


def _nectar(flight: int, months: int) -> float:
    return (flight & months).bit_count() / flight.bit_count() if flight else 1.0

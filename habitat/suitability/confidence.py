"""How sure is a class? Seeded draws of the maps' stated errors, one draw per map unit or yard.

Errors of a map do not average out over the cells of a yard: the yard as a whole is more acid than the map
says, or less. So each unit gets one draw per factor, shared by all its places, never one per cell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.errors import ParameterError
from habitat.factors import FACTORS
from habitat.suitability.classes import class_number
from habitat.suitability.fit import score
from habitat.suitability.maps import MapError, NormalError
from habitat.suitability.types import Needs

CHUNK = 4_000_000
"""Places x draws that are scored at a time."""


@dataclass(frozen=True, slots=True)
class Confidence:
    """How sure classes are.

    ``stated`` (plants, groups) is the class by the maps, 1 (S1) to 4 (N); ``chance`` (plants, groups) that
    the true class is as good or better, and ``better`` (plants, groups) that it is better, in [0, 1]. The
    standard error of a chance is at most 0.5 / sqrt(draws).
    """

    plants: tuple[str, ...]
    stated: NDArray[np.uint8]
    chance: NDArray[np.float64]
    draws: int
    better: NDArray[np.float64]


def class_confidence(
    needs: Needs,
    values: dict[str, NDArray[np.float32]],
    errors: dict[str, MapError],
    *,
    units: NDArray[np.int64],
    rng: np.random.Generator,
    draws: int = 1000,
    groups: NDArray[np.int64] | None = None,
) -> Confidence:
    """Return the chance that each plant's class holds, place by place or for the mean of groups of places.

    Parameters
    ----------
    needs
        Of the plants to be judged.
    values
        Factor -> (places,), NaN where unknown; unknown stays at its worst in every draw.
    errors
        Factor -> what its map states; factors without count as exact.
    units
        (places,) map unit or yard of each place: one draw of each error per unit.
    rng
        Seeded by the study.
    draws
        How many.
    groups
        (places,) group of each place, numbered from 0: the class is that of the mean score of a group. None
        judges every place by itself.

    Notes
    -----
    For one need with normal error, a class from a score of at least c holds with the chance
    ``Phi((b - v) / sd) - Phi((a - v) / sd)``, where the trapezium is at least c between a and b.
    """
    places = len(units)
    if draws < 1 or any(v.shape != (places,) for v in values.values()):
        raise ParameterError("values, draws", (places, draws), "one value per place, and at least one draw")
    member = np.arange(places) if groups is None else np.asarray(groups, np.int64)
    size = np.bincount(member)
    known, unit = np.unique(units, return_inverse=True)
    stated = _group_classes(needs, {k: v[None, :] for k, v in values.items()}, member, size)[:, 0]
    hits, better = np.zeros((2, len(needs.plants), len(size)))
    step = max(1, CHUNK // max(places, 1))
    for first in range(0, draws, step):
        count = min(step, draws - first)
        drawn = {
            name: drawn_values(name, v, errors.get(name), unit, len(known), count, rng)
            for name, v in sorted(values.items())
        }
        found = _group_classes(needs, drawn, member, size)
        hits += (found <= stated[:, None, :]).sum(axis=1)
        better += (found < stated[:, None, :]).sum(axis=1)
    return Confidence(needs.plants, stated, hits / draws, draws, better / draws)


def drawn_values(
    name: str,
    values: NDArray[np.float32],
    error: MapError | None,
    unit: NDArray[np.int64],
    units: int,
    count: int,
    rng: np.random.Generator,
) -> NDArray[np.float32]:
    """Return (count, places) values with one draw of the error per unit."""
    if error is None:
        return np.broadcast_to(values, (count, len(values)))
    if isinstance(error, NormalError):
        shift = rng.normal(0.0, error.sd, (count, units))[:, unit]
        return np.clip(values + shift, *FACTORS[name].possible).astype(np.float32)
    luck = rng.random((count, units))[:, unit]
    known = ~np.isnan(values)
    mapped = np.clip(np.nan_to_num(np.rint(values), nan=1.0).astype(int), 1, len(error.chance)) - 1
    edges = np.cumsum(error.chance, axis=1)[mapped]
    true = (luck[:, :, None] > edges[None, :, :-1]).sum(axis=-1) + 1
    return np.where(known, true, np.nan).astype(np.float32)


def _group_classes(
    needs: Needs, values: dict[str, NDArray[np.float32]], member: NDArray[np.int64], size: NDArray[np.int64]
) -> NDArray[np.uint8]:
    """Return (plants, draws, groups) class numbers of the mean worst-case score."""
    count, places = next(iter(values.values())).shape if values else (1, len(member))
    out = np.empty((len(needs.plants), count, len(size)), np.uint8)
    for p, plant in enumerate(needs.plants):
        low = score(needs, plant, values, shape=(count, places)).low.astype(float)
        mean = np.zeros((count, len(size)))
        for c in range(count):
            mean[c] = np.bincount(member, low[c], len(size)) / size
        out[p] = class_number(mean, needs.class_limits)
    return out


def yard_chance(
    needs: Needs,
    values: dict[str, NDArray[np.float32]],
    inside: NDArray[np.bool_],
    errors: dict[str, MapError],
    *,
    rng: np.random.Generator,
    draws: int = 1000,
) -> Confidence:
    """Return the chance that each plant's class holds for a yard as a whole (one group, one unit).

    Parameters
    ----------
    values
        Factor -> (rows, cols), as ``SiteWindow.values``.
    inside
        (rows, cols) the yard's cells, at least one.
    """
    places = {name: v[inside] for name, v in values.items()}
    one = np.zeros(int(inside.sum()), np.int64)
    if not len(one):
        raise ParameterError("inside", 0, "at least one cell")
    return class_confidence(needs, places, errors, units=one, rng=rng, draws=draws, groups=one)

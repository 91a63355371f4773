"""What is drawn, judged where it stands: fit, sun and the need that costs most, at the plants themselves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from habitat.arrays import Floats, Ints
from habitat.factors import FACTORS
from habitat.planting.types import BedSite, Cells
from habitat.suitability.held_back import HeldBack, held_back
from habitat.suitability.types import NO_LIMIT, Needs

SAMPLES = 4
"""Places a cell is looked at either way for the part of it that a bed takes, as where bed sites are found."""

LEAST_REST_M2 = 0.5
"""Ground of a bed that its own tall shrubs must leave uncovered to count apart from them: judgement."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One planting where it stands: its fit and what costs most of it; its sun [h a day], NaN if unknown."""

    held: HeldBack
    sun_h: float


def judge(
    site: BedSite, needs: Needs | None, number: int, plant: str, xy: NDArray[np.float64] | None
) -> Judged:
    """Return how a plant fits where it is drawn.

    Parameters
    ----------
    site
        The bed site; trees and tall shrubs that stand for good are judged without the shade that they cast.
    needs
        Of the plants; None where only the site's own means are known.
    number, plant
        Place in ``Needs.plants``, and accepted name.
    xy
        Its plants (n, 2) [m]; None for plants without places, which have the mean of the site.
    """
    own = site.grown is not None and plant in site.grown.at
    cells = site.grown.cells_before if own and site.grown is not None else site.cells
    if cells is None or needs is None or xy is None or not len(xy):
        code = int(site.limiting[number])
        need = "" if code == NO_LIMIT else FACTORS.names[code]
        return Judged(HeldBack(float(site.fit[number]), need, 1.0 if need else 0.0), site.sun_h_mean)
    at = cells_at(cells, xy)
    here = {name: values[at] for name, values in cells.values.items()}
    return Judged(held_back(needs, plant, here), known_mean(here.get("sun_h")))


def cells_at(cells: Cells, xy: NDArray[np.float64]) -> Ints:
    """Return the cell (n,) that each place (n, 2) [m] is in, or the nearest one."""
    away = (xy[:, :1] - cells.x) ** 2 + (xy[:, 1:] - cells.y) ** 2
    return np.argmin(np.round(away, 9), axis=1)


def uncovered(
    bed: BaseGeometry, at: Mapping[str, NDArray[np.float64]], spread_m: Mapping[str, float]
) -> BaseGeometry:
    """Return the ground of a bed that its own tall shrubs leave uncovered; all of it where they leave none.

    ``at`` are their points (n, 2) [m] and ``spread_m`` their mature spread, by plant.
    """
    rest = bed
    for plant, xy in at.items():
        crowns = [shapely.Point(place).buffer(float(spread_m[plant]) / 2) for place in xy]
        rest = rest.difference(shapely.union_all(crowns))
    return rest if rest.area >= LEAST_REST_M2 else bed


def sun_on(cells: Cells, ground: BaseGeometry) -> float:
    """Return the mean sun [h a day] on some ground within a bed site, NaN if unknown."""
    offsets = ((np.arange(SAMPLES) + 0.5) / SAMPLES - 0.5) * cells.cell_m
    east, north = np.meshgrid(offsets, offsets)
    x, y = cells.x[:, None] + east.ravel(), cells.y[:, None] + north.ravel()
    shapely.prepare(ground)
    weight = shapely.contains_xy(ground, x, y).sum(axis=1).astype(float)
    return known_mean(cells.values.get("sun_h"), weight)


def known_mean(values: NDArray[np.float32] | None, weight: Floats | None = None) -> float:
    """Return the mean of what is known of some values, NaN where nothing is."""
    if values is None:
        return math.nan
    weight = np.ones(len(values)) if weight is None else weight
    known = ~np.isnan(values) & (weight > 0)
    return float(np.average(values[known].astype(float), weights=weight[known])) if known.any() else math.nan

"""What lies around a bed: people who pass and play, and what holds plants that spread in their place."""

from __future__ import annotations

import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

PAVING, STREET, LAWN = "paving", "street", "lawn"
"""Where people walk, and lawn that no bed takes: keys of ``Site.closed_ground``."""

LAWN_BEYOND = 1.2
"""Open ground this much larger than a bed leaves lawn that is mown around it: judgement."""

PAVED_M = 0.5
"""Paving within this distance is an edge of the bed: judgement."""

FULL_SUN_H, SHADE_H = 6.0, 3.0
"""Hours of sun of full sun and of shade: common practice."""


def near(
    ground: BaseGeometry, closed: pd.DataFrame, within_m: float, what: tuple[str, ...] = (PAVING, STREET)
) -> bool:
    """Return whether ground lies within a distance of paving or of a street.

    Parameters
    ----------
    ground
        A bed.
    closed
        Rows of ``Site.closed_ground``: geometry, which the setback has widened, setback_m, what.
    within_m
        From the thing itself [m].
    what
        Which rows count.
    """
    rows = zip(closed["what"], closed["geometry"].to_numpy(), closed["setback_m"], strict=True)
    return any(
        kind in what and shape is not None and shape.distance(ground) + float(setback) < within_m
        for kind, shape, setback in rows
    )


def walked(closed: pd.DataFrame, what: tuple[str, ...] = (PAVING, STREET)) -> BaseGeometry:
    """Return paving and streets themselves, without the setback that rows of ``Site.closed_ground`` add."""
    rows = closed[closed["what"].isin(what) & closed["geometry"].notna()]
    return shapely.union_all(
        [
            shape.buffer(-wide)
            for shape, wide in zip(rows["geometry"], rows["setback_m"].fillna(0.0), strict=True)
        ]
    )


def calm(ground: BaseGeometry, people: BaseGeometry | None, away_m: float) -> BaseGeometry:
    """Return the ground that lies at least so far from walks, doors and play ground.

    Examples
    --------
    >>> walk, bed = shapely.box(-9, -1, 9, 0), shapely.box(0, 0, 6, 2)
    >>> calm(bed, walk, 1.5).area, calm(bed, None, 1.5).area
    (3.0, 12.0)
    """
    if people is None or people.is_empty or not away_m or people.distance(ground) >= away_m:
        return ground
    return ground.difference(people.buffer(away_m))


def containing(
    ground: BaseGeometry, open_ground: BaseGeometry, closed: pd.DataFrame, sun_h: float
) -> tuple[str, ...]:
    """Return what lies around a bed that contains plants that spread; open ground beyond it is mown lawn.

    Parameters
    ----------
    ground, open_ground
        A bed, and all open ground of its yard.
    closed
        Rows of ``Site.closed_ground``.
    sun_h
        Hours of sun on the bed; NaN where nobody knows.
    """
    lawn = open_ground.area > ground.area * LAWN_BEYOND or near(ground, closed, PAVED_M, (LAWN,))
    there = {
        "mown_edge": lawn,
        "mowing": lawn,
        "lawn": lawn,
        "paving": near(ground, closed, PAVED_M, (PAVING,)),
        "sun": sun_h >= FULL_SUN_H,
        "shade": sun_h < SHADE_H,
    }
    return tuple(name for name, holds in there.items() if holds)

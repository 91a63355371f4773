"""What could stand in a yard and is told by no layer: obstacles that are missing are missing knowledge."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping

import geopandas as gpd
import numpy as np
import shapely

from habitat.arrays import Flags

OBSTACLES = ("trees", "paving", "wires", "buried", "fences", "water", "septic")
"""Layers of what forbids or shades, in the order in which they are told: what changes most plans first."""

OLD_YEARS = 5.0
"""What was mapped longer ago may lack things that stand there now (judgement)."""

LIKELY = 0.6
"""Where this share of the other yards has a thing, a yard without it is likelier unmapped than bare
(judgement)."""

NEAR_M = 10.0
"""A thing this near to a yard counts as one of it: its shade and its room reach in (judgement)."""


def unseen(
    yards: gpd.GeoDataFrame,
    surroundings: Mapping[str, gpd.GeoDataFrame],
    told: Mapping[str, Collection[str]] | None = None,
    only_drawn: Collection[str] = (),
) -> dict[str, tuple[str, ...]]:
    """Return which obstacles nobody knows of in each yard.

    Parameters
    ----------
    yards
        yard_id and polygons in a metric CRS.
    surroundings
        What is there, by the names of ``OBSTACLES``, in the CRS of the yards; layers that were not given
        are left out.
    told
        yard_id -> obstacles of which its household told where they are, or that there are none.
    only_drawn
        Layers made of drawings of single yards: where they show nothing, they tell nothing.

    Returns
    -------
    dict
        yard_id -> names of OBSTACLES: those without a layer, and those that at least ``LIKELY`` of the
        other yards have in or near them and this one has not.

    Examples
    --------
    >>> yards = gpd.GeoDataFrame({"yard_id": ["a", "b", "c"]}, geometry=[
    ...     shapely.box(x, 0, x + 20, 30) for x in (0, 100, 200)], crs=32617)
    >>> trees = gpd.GeoDataFrame(geometry=[shapely.Point(5, 5), shapely.Point(105, 5)], crs=32617)
    >>> found = unseen(yards, {"trees": trees})
    >>> "trees" in found["a"], "trees" in found["c"], "paving" in found["a"]
    (False, True, True)
    """
    ids = yards["yard_id"].astype(str).tolist()
    around = shapely.STRtree(shapely.buffer(yards.geometry.to_numpy(), NEAR_M))
    least = {name: 0.0 if name in only_drawn else LIKELY for name in OBSTACLES}
    lacking = {name: _lacking(around, len(ids), surroundings.get(name), least[name]) for name in OBSTACLES}
    return {
        yard_id: tuple(n for n in OBSTACLES if lacking[n][place] and n not in (told or {}).get(yard_id, ()))
        for place, yard_id in enumerate(ids)
    }


def mapped_long_ago(mapped: Mapping[str, dt.date | None], today: dt.date | None) -> dict[str, int]:
    """Return the year of each obstacle layer, buildings among them, that was mapped over ``OLD_YEARS`` ago.

    Parameters
    ----------
    mapped
        Name of a layer -> when it was mapped; None where nobody told.
    today
        The date of the study; without one nothing is old.

    Examples
    --------
    >>> day = dt.date(2015, 12, 31)
    >>> mapped_long_ago({"trees": day, "paving": None}, dt.date(2026, 3, 1))
    {'trees': 2015}
    """
    old = {}
    for name in (*OBSTACLES, "buildings"):
        day = mapped.get(name)
        if day and today and (today - day).days > OLD_YEARS * 365.25:
            old[name] = day.year
    return old


def _lacking(around: shapely.STRtree, count: int, frame: gpd.GeoDataFrame | None, least: float) -> Flags:
    """Return for each yard whether nobody knows of a thing there, which this share of the others has."""
    if frame is None or not len(frame):
        return np.ones(count, bool)
    shapes = frame.geometry.to_numpy()
    there = np.zeros(count, bool)
    there[around.query(shapes[~shapely.is_missing(shapes)], predicate="intersects")[1]] = True
    others = (there.sum() - there) / max(count - 1, 1)
    return ~there & (others >= least)

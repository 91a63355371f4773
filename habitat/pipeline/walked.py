"""What households told on a walk of their yard: ground kept free, sun in bounds, wet ground, gaps closed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from habitat.cells import rasterize_index
from habitat.grid import Grid
from habitat.ground.sides import BACK, FRONT, SIDES, drive_strip, play_round, sides
from habitat.layers.cells.walk_words import OBSTACLE_OF
from habitat.layers.types import Layers
from habitat.remarks import Remark, Subject, remark
from habitat.soil.factors import Soil
from habitat.sun.light import Sun

SUN_H = {"full": (6.0, 16.0), "part": (3.0, 6.0), "shade": (0.0, 3.0)}
"""Bounds of direct sun on a clear summer day [h]: 6 or more, 3 to 6, less (extension texts)."""

MORE_SIDED = ("play", "wet", "sun_front", "sun_back")
"""What else is told by sides, beside obstacles."""

PLACED = ("drive", "walks", "septic")
"""What a side is enough for: ground is kept for it. Of trees, wires and fences it does not tell enough."""

WETTER = 1.0
"""Ground where water stands after rain is taken to be so many classes wetter than maps and tests tell, which
are coarser or of another spot (judgement)."""

STREET_REACH_M = 60.0
"""A street this near to a yard tells its front (judgement)."""


@dataclass(slots=True)
class Walked:
    """What the walk forms tell.

    known : yard_id -> obstacles that need no looking for there any more; every yard that was walked is a key.
    kept, septic : ground that is kept free, and where a septic field lies: yard_id, geometry. sun : yard_id
    -> its parts with their word. wet : where water stands after rain.
    without_front : yards whose words about sides mean nothing, since no street tells their front.
    """

    known: dict[str, frozenset[str]] = field(default_factory=dict)
    kept: list[tuple[str, BaseGeometry]] = field(default_factory=list)
    septic: list[tuple[str, BaseGeometry]] = field(default_factory=list)
    sun: list[tuple[str, BaseGeometry, str]] = field(default_factory=list)
    wet: list[tuple[str, BaseGeometry]] = field(default_factory=list)
    without_front: list[str] = field(default_factory=list)

    @property
    def notes(self) -> tuple[Remark, ...]:
        """What there is to tell of it."""
        if not self.without_front:
            return ()
        return (remark("walk_without_front", Subject(tuple(self.without_front), layers=("walk", "streets"))),)

    def ground(self, had: Mapping[str, gpd.GeoDataFrame], crs: Any) -> dict[str, gpd.GeoDataFrame]:
        """Return the layers ``told`` and ``septic``: ground that is kept, and where septic fields lie."""
        out = {}
        for name, rows in (("told", self.kept), ("septic", self.septic)):
            if rows:
                more = gpd.GeoDataFrame(geometry=[shape for _, shape in rows], crs=crs)
                old = had.get(name)
                out[name] = (
                    more if old is None else gpd.GeoDataFrame(pd.concat([old[["geometry"]], more]), crs=crs)
                )
        return out


def read_walks(layers: Layers) -> Walked:
    """Return what the layer ``walk`` tells; nothing without one."""
    table, out = layers.frame("walk"), Walked()
    if table is None or not len(table):
        return out
    for yard_id, shape, said in _rows(layers, table):
        known = {OBSTACLE_OF[c] for c in OBSTACLE_OF if said.get(c) == "none"}
        street, house = _near(layers, "streets", shape), _house(layers, shape)
        if street is None and any(_sided(said, c) for c in (*OBSTACLE_OF, *MORE_SIDED)):
            out.without_front.append(yard_id)
        if street is not None:
            known |= _place(out, yard_id, shape, house, street, said)
        if "drive" not in said:
            known.discard("paving")  # no walks is not yet no drive
        if {"sun_front", "sun_back"} <= set(said) and yard_id not in out.without_front:
            known.add("sun")
        out.known[yard_id] = frozenset(known)
    return out


def _rows(layers: Layers, table: pd.DataFrame) -> Iterator[tuple[str, BaseGeometry, dict[str, str]]]:
    """Yield each walked yard with its words; of several rows of one yard the later ones win."""
    shapes = dict(zip(layers.yards["yard_id"], layers.yards.geometry, strict=True))
    said: dict[str, dict[str, str]] = {}
    for row in table.to_dict("records"):
        words = {str(k): v for k, v in row.items() if isinstance(v, str) and v}
        said.setdefault(str(row["yard_id"]), {}).update(words)
    yield from ((yard, shapes[yard], words) for yard, words in said.items())


def _sided(said: dict[str, str], column: str) -> bool:
    return (column.startswith("sun") and column in said) or bool(
        {*said.get(column, "").split(";")} & {*SIDES}
    )


def _near(layers: Layers, name: str, shape: BaseGeometry) -> BaseGeometry | None:
    frame = layers.frame(name)
    if frame is None or not len(frame):
        return None
    near = frame.geometry[frame.geometry.distance(shape) <= STREET_REACH_M]
    return shapely.force_2d(shapely.union_all(near.to_numpy())) if len(near) else None


def _house(layers: Layers, shape: BaseGeometry) -> BaseGeometry:
    """Return the largest building of a yard, the yard itself without one."""
    frame = layers.frame("buildings")
    parts = [] if frame is None else [b.intersection(shape) for b in frame.geometry[frame.intersects(shape)]]
    largest = max(parts, key=lambda b: b.area, default=shape)
    return largest if largest.area > 0 else shape


def _place(
    out: Walked,
    yard_id: str,
    shape: BaseGeometry,
    house: BaseGeometry,
    street: BaseGeometry,
    said: dict[str, str],
) -> set[str]:
    """Keep ground for what is told by its side; return what needs no looking for any more."""
    parts, known = sides(shape, house, street), set()
    for column in PLACED:
        told = [side for side in said.get(column, "").split(";") if side in SIDES]
        if told:
            known.add(OBSTACLE_OF[column])
        for side in told:
            if column == "drive":
                out.kept.append((yard_id, drive_strip(shape, house, street, side)))
            elif column == "septic":
                out.septic.append((yard_id, parts[side]))
    for side in said.get("play", "").split(";"):
        if side in SIDES:
            out.kept.append((yard_id, play_round(parts[side].difference(house))))
    for side in said.get("wet", "").split(";"):
        if side in SIDES:
            out.wet.append((yard_id, parts[side]))
            known.add("wet")
    for part in (FRONT, BACK):
        if word := said.get(f"sun_{part}"):
            out.sun.append((yard_id, parts[part], word))
    return known


def in_told_light(sun: Sun, walked: Walked, grid: Grid, crs: Any) -> Sun:
    """Return the sun with hours held within what households saw, where anything tells hours there.

    Notes
    -----
    A word is a range: hours inside it stay as they were worked out, others go to its nearer end, and the
    afternoon and each month in proportion. Hours that are not known take its middle (7 h for full).
    """
    if not walked.sun:
        return sun
    if "sun_h" not in sun.rasters:
        unused = remark("walk_sun_unused", Subject(layers=("walk", "buildings")))
        return replace(sun, notes=[*sun.notes, unused])
    rasters, months = dict(sun.rasters), dict(sun.by_month)
    for _, part, word in walked.sun:
        cells = rasterize_index(gpd.GeoSeries([part], crs=crs), grid) >= 0
        low, high = SUN_H[word]
        was = rasters["sun_h"]
        now = np.where(cells, np.clip(was, low, high), was)
        rasters["sun_h"] = np.where(cells & np.isnan(was), min((low + high) / 2, 7.0), now).astype(np.float32)
        with np.errstate(invalid="ignore", divide="ignore"):
            ratio = np.where(cells & (was > 0), now / was, 1.0).astype(np.float32)
        rasters |= {name: values * ratio for name, values in rasters.items() if name != "sun_h"}
        months = {month: values * ratio for month, values in months.items()}
    return replace(sun, rasters=rasters, by_month=months)


def in_told_wetness(soil: Soil, walked: Walked, grid: Grid, crs: Any) -> Soil:
    """Return the soil with drainage ``WETTER`` where water stands; what nothing tells stays unknown."""
    if not walked.wet or "drainage" not in soil.rasters:
        return soil
    wet = gpd.GeoSeries([part for _, part in walked.wet], crs=crs)
    was = soil.rasters["drainage"]
    now = np.where(rasterize_index(wet, grid) >= 0, np.maximum(was - WETTER, 1.0), was).astype(np.float32)
    return replace(soil, rasters={**soil.rasters, "drainage": now})

"""What breaches a rule in what people changed by hand: told by name, never refused."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.spatial import cKDTree

from habitat.planting.settled import BY_HAND
from habitat.planting.types import Drawn
from habitat.remarks import Remark, Subject, remark
from habitat.site.types import Site

OUTSIDE = 0.01
"""A smaller share of a bed beyond its yard is drawing (judgement)."""

NOT_OPEN = 0.05
"""A smaller share of a bed that is not open ground is drawing (judgement)."""

TOO_CLOSE = 0.75
"""Plants nearer than this share of their spacing are told: what is drawn by machine stands at all of it."""

ON_LIMIT = 1.0 / 255.0


def breaches(
    drawn: Drawn,
    yards: gpd.GeoDataFrame,
    site: Site,
    *,
    fit: Mapping[str, float],
    least_fit: float,
    barred: Mapping[tuple[str, str], Remark],
) -> Iterator[Remark]:
    """Yield what breaches a rule in what is marked as made by hand.

    Parameters
    ----------
    drawn
        Beds, plantings and points.
    yards
        yard_id, geometry.
    site
        Its open ground counts.
    fit
        By planting, the mean fit [0-1] of its points.
    least_fit
        Lower limit of the last class that is suitable.
    barred
        (yard, plant) -> why the household's own wishes and hazards keep it out.
    """
    beds = drawn.beds[drawn.beds[BY_HAND].astype(bool)]
    yield from _beds(beds, yards, site)
    shapes = dict(zip(drawn.beds["bed_id"], drawn.beds.geometry, strict=True))
    near = _too_close(drawn)
    for row in _rows(drawn.plantings[drawn.plantings[BY_HAND].astype(bool)]):
        key, about = row["planting_id"], Subject(yards=(str(row["yard_id"]),), plants=(str(row["plant"]),))
        name, bed = str(row["common_name"]), shapes.get(row["bed_id"])
        spots = drawn.points.geometry[drawn.points["planting_id"] == key]
        out = 0 if bed is None else int((spots.distance(bed) > 1e-6).sum())
        if out:
            yield remark("hand_outside_bed", about, common_name=name, count=out)
        if near.get(key):
            spacing = float(row["spacing_m"])
            yield remark("hand_too_close", about, common_name=name, count=near[key], spacing_m=spacing)
        if fit.get(key, 1.0) < least_fit - ON_LIMIT:
            yield remark("hand_unfit", about, common_name=name, fit=fit[key])
        why = barred.get((str(row["yard_id"]), str(row["plant"])))
        if why is not None:
            yield remark("hand_barred", about, common_name=name, why=why)


def _beds(beds: gpd.GeoDataFrame, yards: gpd.GeoDataFrame, site: Site) -> Iterator[Remark]:
    outlines = dict(zip(yards["yard_id"], yards.geometry, strict=True))
    table = site.open_ground
    ground = dict(zip(zip(table["yard_id"], table["growth_form"], strict=True), table.geometry, strict=True))
    for row in _rows(beds):
        yard, shape, number = str(row["yard_id"]), row["geometry"], int(row["bed_number"])
        about, area = Subject(yards=(yard,)), max(shape.area, 1e-9)
        outline = outlines.get(yard)
        beyond = 1.0 if outline is None else float(shape.difference(outline).area / area)
        if beyond > OUTSIDE:
            yield remark("hand_bed_outside", about, bed=number, share=beyond)
            continue
        open_ground = ground.get((yard, row["growth_form"]))
        closed = 1.0 if open_ground is None else float(shape.difference(open_ground).area / area)
        if site.placeable and closed > NOT_OPEN:
            yield remark("hand_bed_not_open", about, bed=number, share=closed)


def _too_close(drawn: Drawn) -> dict[str, int]:
    """Return by planting how many of its plants stand too close to another."""
    points = drawn.points.reset_index(drop=True)
    if len(points) < 2:
        return {}
    spacing = points["planting_id"].map(drawn.plantings.set_index("planting_id")["spacing_m"]).to_numpy(float)
    spots = shapely.get_coordinates(points.geometry.to_numpy())
    pairs = cKDTree(spots).query_pairs(float(np.nanmax(spacing)), output_type="ndarray")
    far = np.hypot(*(spots[pairs[:, 0]] - spots[pairs[:, 1]]).T)
    wanted = TOO_CLOSE * (spacing[pairs[:, 0]] + spacing[pairs[:, 1]]) / 2
    bad = np.unique(pairs[far < wanted - 1e-6])
    return {str(k): int(n) for k, n in points["planting_id"].iloc[bad].value_counts().items()}


def _rows(table: pd.DataFrame) -> list[dict[Any, Any]]:
    return table.to_dict("records")

"""What breaches a rule in what people changed by hand: told by name, never refused."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
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


def odd_rows(
    tables: Mapping[str, gpd.GeoDataFrame], yards: gpd.GeoDataFrame
) -> tuple[dict[str, gpd.GeoDataFrame], tuple[Remark, ...]]:
    """Return edited tables of plan.gpkg without rows that only repeat another, and what is odd about rows.

    Parameters
    ----------
    tables
        ``beds``, ``plantings`` and ``plant_points`` as they stand in the file, and others.
    yards
        yard_id, geometry: all yards of the study.
    """
    out, notes = dict(tables), list[Remark]()
    for layer, key in (("beds", "bed_id"), ("plantings", "planting_id"), ("plant_points", "point_id")):
        table = tables[layer]
        repeats, told = _repeated(table, layer, key)
        notes += [*told, *_strangers(table, layer, set(yards["yard_id"].astype(str)))]
        out[layer] = table[~repeats].reset_index(drop=True) if repeats.any() else table
    shapes = out["beds"].geometry
    ground = shapely.union_all(yards.geometry.to_numpy())
    shapely.prepare(ground)
    for row, shape in enumerate(tables["beds"].geometry, start=1):
        if len(shapes) and shape is not None and not shape.is_empty and not ground.intersects(shape):
            notes.append(_odd("beds", row, "it lies outside all yards"))
    return out, tuple(notes)


def _repeated(table: gpd.GeoDataFrame, layer: str, key: str) -> tuple[NDArray[np.bool_], list[Remark]]:
    """Return which rows are equal to one before, and a remark for each second row of a bed or planting."""
    cells = pd.DataFrame(table.drop(columns="geometry")).astype(str)
    cells["geometry"] = shapely.to_wkb(table.geometry.to_numpy())
    named = (table[key].notna() & (cells[key] != "")).to_numpy()
    equal, first, notes = cells.duplicated().to_numpy() & named, dict[str, int](), list[Remark]()
    for row, (name, same) in enumerate(zip(cells[key], equal, strict=True), start=1):
        if not named[row - 1] or name not in first:
            first[name] = row
        elif same:
            notes.append(_odd(layer, row, f"it repeats row {first[name]} ({key} {name}): it is left out"))
        elif layer != "plant_points":  # a place that is copied and moved is how a plant is added
            what = f"a second row of {key} {name}, after row {first[name]}: it counts as one of its own"
            notes.append(_odd(layer, row, what))
    return equal, notes


def _strangers(table: gpd.GeoDataFrame, layer: str, known: set[str]) -> list[Remark]:
    """Return of which yards rows are that this study does not have, a remark a yard."""
    found: dict[str, list[int]] = {}
    for row, yard in enumerate(table["yard_id"].fillna("").astype(str), start=1):
        if yard and yard not in known:
            found.setdefault(yard, []).append(row)
    return [
        _odd(
            layer,
            rows[0],
            f"yard {yard} is no yard of this study: {len(rows)} row(s) of it are left out",
            yard,
        )
        for yard, rows in found.items()
    ]


def _odd(layer: str, row: int, what: str, yard: str = "") -> Remark:
    about = Subject(yards=(yard,)) if yard else Subject()
    return remark("list_row", about, file=f"plan.gpkg, layer {layer}", row=row, what=what)


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

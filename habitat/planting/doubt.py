"""How habitat would turn out were the maps wrong by their stated errors: seeded draws per yard."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.arrays import Floats
from habitat.knowledge import Knowledge
from habitat.knowledge.food import host_worth
from habitat.planting.standing import planned_table, standing_fit, standing_table
from habitat.planting.types import Drawn, Planting
from habitat.settings.planting import PlantingSettings
from habitat.site.types import Site
from habitat.suitability import Needs
from habitat.suitability.confidence import drawn_values
from habitat.suitability.fit import score
from habitat.suitability.maps import MapError


def habitat_draws(
    planting: Planting,
    yards: gpd.GeoDataFrame,
    site: Site,
    existing: gpd.GeoDataFrame,
    butterflies: Sequence[str],
    *,
    knowledge: Knowledge,
    needs: Needs,
    settings: PlantingSettings,
    errors: Mapping[str, MapError],
    draws: int,
    seed: int,
) -> dict[tuple[str, str], Floats]:
    """Return (yard_id, butterfly) -> (draws,) factors on planned habitat; empty if no map states an error.

    Parameters
    ----------
    planting
        What was planned.
    yards, site, existing
        yard_id and geometry; what each place offers; the table ``existing_plants``.
    butterflies
        Whom to count for.
    knowledge, needs, settings
        The tables, the needs of the plants planned with, ``year`` and ``enough_m2``.
    errors
        What the maps state of their error, by factor.
    draws
        How many; one draw of each map's error per yard, shared by all plants there.
    seed
        Start of the random numbers.

    Notes
    -----
    Leaf is crown area x fit x preference, summed over the host plants of the yard, standing and planned; the
    factor is what it comes to with the drawn soil over what it comes to by the maps, both capped at what is
    enough. Overlaps of crowns and changes of nectar are left out. A hole in a map stays at its worst,
    and what a soil test tells is exact in its yard.
    """
    errors = {f: e for f, e in errors.items() if f in needs.assessed}
    if not errors or draws <= 0:
        return {}
    grown = _grown(
        planting, yards, existing.assign(fit=standing_fit(existing, site, needs)), knowledge, settings
    )
    hosts = _hosts_of(grown, butterflies, knowledge)
    if not len(hosts):
        return {}
    grid = site.grid
    rows, cols = grid.rowcol(hosts["x"].to_numpy(), hosts["y"].to_numpy())
    rows, cols = np.clip(rows, 0, grid.shape[0] - 1), np.clip(cols, 0, grid.shape[1] - 1)
    mapped = {name: raster[rows, cols] for name, raster in sorted(site.rasters.items())}
    yards, unit = np.unique(hosts["yard_id"].to_numpy(str), return_inverse=True)
    rng = np.random.default_rng([seed, 1])
    drawn = {n: drawn_values(n, v, errors.get(n), unit, len(yards), draws, rng) for n, v in mapped.items()}
    for name, tested in site.tests.items():
        exact = np.isin(yards, sorted(tested))[unit]
        drawn[name] = np.where(exact, mapped[name], drawn[name]).astype(np.float32)
    one = _fits(needs, hosts, {n: v[None, :] for n, v in mapped.items()})
    many = _fits(needs, hosts, drawn)
    enough, out = settings.enough_m2, {}
    for butterfly in butterflies:
        worth = hosts["area_m2"].to_numpy() * _preference(hosts["plant"], butterfly, knowledge)
        for u in np.unique(unit[worth > 0.0]):
            here = unit == u
            by_map = min(float(one[0, here] @ worth[here]), enough)
            if by_map > 0.0:
                out[str(yards[u]), butterfly] = np.minimum(many[:, here] @ worth[here], enough) / by_map
    return out


def _grown(
    planting: Planting,
    yards: gpd.GeoDataFrame,
    existing: gpd.GeoDataFrame,
    knowledge: Knowledge,
    settings: PlantingSettings,
) -> pd.DataFrame:
    """Return what stands and what is planned as one table; see ``standing_table``."""
    drawn = Drawn(planting.beds, planting.plantings, planting.plant_points)
    shapes = dict(zip(yards["yard_id"].astype(str), yards.geometry, strict=True))
    tables = [standing_table(existing, knowledge), planned_table(drawn, shapes, knowledge, settings.year)]
    return pd.concat([t for t in tables if len(t)] or tables[:1], ignore_index=True)


def _hosts_of(grown: pd.DataFrame, butterflies: Sequence[str], knowledge: Knowledge) -> pd.DataFrame:
    """Return the host plants: yard_id, plant, x, y, fit, area_m2 of the crowns."""
    hosts = {p for b in butterflies for p in host_worth(knowledge, b)}
    table = grown[grown["plant"].isin(hosts)].reset_index(drop=True)
    return table.assign(area_m2=table["cover_m2"].fillna(math.pi * table["radius_m"] ** 2))


def _preference(plants: pd.Series[str], butterfly: str, knowledge: Knowledge) -> Floats:
    return np.asarray(plants.map(host_worth(knowledge, butterfly)).fillna(0.0), float)


def _fits(needs: Needs, hosts: pd.DataFrame, values: dict[str, NDArray[np.float32]]) -> Floats:
    """Return (draws, plants) the lower bound of fit; a plant that is not planned with keeps its own."""
    draws = next(iter(values.values())).shape[0]
    out = np.repeat(hosts["fit"].to_numpy(float)[None, :], draws, axis=0)
    for plant, rows in hosts.groupby("plant").indices.items():
        if plant in needs.plants:
            here = {name: np.ascontiguousarray(v[:, rows]) for name, v in values.items()}
            out[:, rows] = score(needs, str(plant), here, shape=(draws, len(rows))).low
    return out

"""How habitat would turn out were the maps wrong by their stated errors: seeded draws per yard."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.arrays import Floats
from habitat.knowledge import Knowledge
from habitat.planting.standing import planned_table, standing_fit, standing_table
from habitat.planting.types import Drawn, Planting, PlantingRequest
from habitat.suitability import Needs, map_errors, score
from habitat.suitability.confidence import drawn_values


def habitat_draws(
    request: PlantingRequest, planting: Planting, butterflies: tuple[str, ...], draws: int
) -> dict[tuple[str, str], Floats]:
    """Return (yard_id, butterfly) -> (draws,) factors on planned habitat; empty if no map states an error.

    Parameters
    ----------
    request, planting
        What was asked and planned.
    butterflies
        Whom to count for.
    draws
        How many; one draw of each map's error per yard, shared by all plants there.

    Notes
    -----
    Leaf is crown area x fit x preference, summed over the host plants of the yard, standing and planned; the
    factor is what it comes to with the drawn soil over what it comes to by the maps, both capped at what is
    enough. Overlaps of crowns and changes of nectar are left out. A hole in a map stays at its worst,
    and what a soil test tells is exact in its yard.
    """
    errors = {f: e for f, e in map_errors(request.study).items() if f in request.needs.assessed}
    hosts = _hosts(request, planting, butterflies) if errors and draws > 0 else pd.DataFrame()
    if not len(hosts):
        return {}
    grid = request.site.grid
    rows, cols = grid.rowcol(hosts["x"].to_numpy(), hosts["y"].to_numpy())
    rows, cols = np.clip(rows, 0, grid.shape[0] - 1), np.clip(cols, 0, grid.shape[1] - 1)
    mapped = {name: raster[rows, cols] for name, raster in sorted(request.site.rasters.items())}
    yards, unit = np.unique(hosts["yard_id"].to_numpy(str), return_inverse=True)
    rng = np.random.default_rng([request.study.study.seed, 1])
    drawn = {n: drawn_values(n, v, errors.get(n), unit, len(yards), draws, rng) for n, v in mapped.items()}
    for name, tested in request.site.tests.items():
        exact = np.isin(yards, sorted(tested))[unit]
        drawn[name] = np.where(exact, mapped[name], drawn[name]).astype(np.float32)
    one = _fits(request.needs, hosts, {n: v[None, :] for n, v in mapped.items()})
    many = _fits(request.needs, hosts, drawn)
    enough, out = request.study.planting.enough_m2, {}
    for butterfly in butterflies:
        worth = hosts["area_m2"].to_numpy() * _preference(hosts["plant"], butterfly, request.knowledge)
        for u in np.unique(unit[worth > 0.0]):
            here = unit == u
            by_map = min(float(one[0, here] @ worth[here]), enough)
            if by_map > 0.0:
                out[str(yards[u]), butterfly] = np.minimum(many[:, here] @ worth[here], enough) / by_map
    return out


def _hosts(request: PlantingRequest, planting: Planting, butterflies: tuple[str, ...]) -> pd.DataFrame:
    """Return the host plants, standing and planned: yard_id, plant, x, y, fit, area_m2 of the crowns."""
    existing = request.existing
    existing = existing.assign(fit=standing_fit(existing, request.site, request.needs))
    drawn = Drawn(planting.beds, planting.plantings, planting.plant_points)
    yards = dict(zip(request.layers.yards["yard_id"].astype(str), request.layers.yards.geometry, strict=True))
    tables = [
        standing_table(existing, request.knowledge),
        planned_table(request.study, request.knowledge, drawn, yards),
    ]
    table = pd.concat([t for t in tables if len(t)] or tables[:1], ignore_index=True)
    hosts = {p for b in butterflies for p in request.knowledge.hosts_of(b)["plant"]}
    table = table[table["plant"].isin(hosts)].reset_index(drop=True)
    return table.assign(area_m2=table["cover_m2"].fillna(math.pi * table["radius_m"] ** 2))


def _preference(plants: pd.Series[str], butterfly: str, knowledge: Knowledge) -> Floats:
    hosts = knowledge.hosts_of(butterfly)
    return plants.map(dict(zip(hosts["plant"], hosts["preference"], strict=True))).fillna(0.0).to_numpy(float)


def _fits(needs: Needs, hosts: pd.DataFrame, values: dict[str, NDArray[np.float32]]) -> Floats:
    """Return (draws, plants) the lower bound of fit; a plant that is not planned with keeps its own."""
    draws = next(iter(values.values())).shape[0]
    out = np.repeat(hosts["fit"].to_numpy(float)[None, :], draws, axis=0)
    for plant, rows in hosts.groupby("plant").indices.items():
        if plant in needs.plants:
            here = {name: np.ascontiguousarray(v[:, rows]) for name, v in values.items()}
            out[:, rows] = score(needs, str(plant), here, shape=(draws, len(rows))).low
    return out

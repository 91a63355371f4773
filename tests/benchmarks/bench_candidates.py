"""Whom to ask among 10,000: how long, how much memory, and how the estimate orders yards.

python tests/benchmarks/bench_candidates.py town [TILES]: the sample town laid side by side (45 times, 10,125
yards, of which the sheet knows the members): rule, estimates, plans of the best, invitations.
python tests/benchmarks/bench_candidates.py error [EVERY] [TOWN] [FIRST]: each (or each so-manieth) yard of a
town, from the FIRST (0) on, planned with equal money, beside its estimate; and what an invitation list from
few plans reaches. TOWN is "sample", "random" (500 random yards) or "prague" (real parcels, see
tests/support/prague.py), in which every third yard is a member.
"""

from __future__ import annotations

import json
import resource
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.stats import spearmanr

sys.path.insert(0, str(Path(__file__).parents[2]))

import habitat
from habitat.connectivity.case import case_of
from habitat.connectivity.invitations.gains import Joint
from habitat.connectivity.invitations.search import choose
from habitat.connectivity.invitations.table import choice_graphs, invitations_of
from habitat.connectivity.kept import Kept
from habitat.executor import Executor
from habitat.grid import Grid
from habitat.pipeline import run as job
from habitat.pipeline.candidates import may_be_asked, quick_worth, with_candidates
from habitat.pipeline.checkpoints import Checkpoints
from habitat.pipeline.corridor import corridor_task, movements_of
from habitat.pipeline.planting import Groundwork, closer_estimate_of, estimate_of, plan_round
from habitat.pipeline.sightings import anchors_of
from habitat.settings.connectivity import ConnectivitySettings

STUDY = Path(__file__).parents[2] / "sample_geodata" / "study.toml"
ACROSS = 5
WHO = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)


def main(what: str, number: int, name: str, first: int) -> None:
    """Measure, and print what was found."""
    if what == "error":
        error(number or 1, name, first)
    else:
        town(number or 45)


def ground_of(cell_m: float, workers: int, path: Path = STUDY) -> Groundwork:
    """Return the stages before planting for a study, by default the sample town, all by the sheet."""
    study = habitat.read_study(path)
    head = study.study.model_copy(update={"cell_m": cell_m})
    study = study.model_copy(update={"study": head, "connectivity": _by_rule(study, "sheet")})
    with Executor(workers) as executor:
        return job._prepare(study, (), executor, job._Clock(None), Checkpoints(None, ""))[0]


def _by_rule(study: habitat.Study, candidates: str) -> Any:
    most = ConnectivitySettings().plan_at_most
    return study.connectivity.model_copy(update={"candidates": candidates, "plan_at_most": most})


def laid_out(frame: Any, tiles: int, wide: float, high: float) -> Any:
    """Return a frame once for each tile, yards with an id of their own."""
    if frame is None or "geometry" not in frame:
        return frame
    parts = []
    shapes = frame.geometry.to_numpy()
    for t in range(tiles):
        by = np.array([wide * (t % ACROSS), high * (t // ACROSS)])
        part = frame.assign(geometry=shapely.transform(shapes, lambda xy, by=by: xy + by))
        parts.append(part.assign(yard_id=part["yard_id"] + f"/{t}") if "yard_id" in part else part)
    return gpd.GeoDataFrame(pd.concat(parts, ignore_index=True), geometry="geometry", crs=frame.crs)


def tiled(ground: Groundwork, tiles: int) -> Groundwork:
    """Return the sample town laid side by side; the sheet knows members only, all others stand outside."""
    grid, site, layers = ground.site.grid, ground.site, ground.layers
    rows, cols = grid.shape
    wide, high = cols * grid.cell_m, rows * grid.cell_m
    down = -(-tiles // ACROSS)
    west, south, _, _ = grid.bounds
    whole = Grid.from_bounds(
        (west, south, west + wide * ACROSS, south + high * down), grid.cell_m, layers.crs
    )
    rasters = {n: np.tile(r, (down, ACROSS)) for n, r in site.rasters.items()}
    lay = {n: laid_out(layers.frame(n), tiles, wide, high) for n in ("yards", "trees", "streets", "anchors")}
    lay["anchors"]["name"] = [f"{n} {k}" for k, n in enumerate(lay["anchors"]["name"])]
    lay["yards"]["role"] = np.where(lay["yards"]["role"] == "member", "member", "other")
    members = lay["yards"].loc[lay["yards"]["role"] == "member", ["yard_id"]]
    lay["participants"] = gpd.GeoDataFrame(members, geometry=[None] * len(members), crs=layers.crs)
    vectors = {n: replace(layers.vectors[n], frame=f) for n, f in lay.items()}
    vectors["growers"] = layers.vectors["growers"]
    made = {
        n: laid_out(getattr(site, n), tiles, wide, high)
        for n in ("open_ground", "closed_ground", "yards", "height_limits", "host_limits")
    }
    study = ground.study.model_copy(update={"connectivity": _by_rule(ground.study, "all")})
    return replace(
        ground,
        study=study,
        layers=replace(layers, vectors=vectors, grid=whole),
        site=replace(site, grid=whole, rasters=rasters, sun_by_month={}, relief=None, tests={}, **made),
        existing=laid_out(ground.existing, tiles, wide, high),
    )


def town(tiles: int) -> None:
    """Time the step for a large town; members' breeding ground is made up, since their plans are no part."""
    ground = tiled(ground_of(2.0, 2), tiles)
    yards, butterflies = ground.layers.yards, ground.wishes
    print(f"{len(yards):,} yards, {(yards['role'] == 'member').sum():,} members")
    with Executor(2) as executor:
        start = time.perf_counter()
        layers, estimated, _ = with_candidates(ground, butterflies, executor=executor)
        ruled = time.perf_counter()
        chosen = tuple(layers.yards.loc[layers.yards["role"] == "candidate", "yard_id"])
        planted = plan_round(replace(ground, layers=layers, yard_ids=chosen), None, executor)
        planned = time.perf_counter()
    breeding = pd.concat(
        [planted.breeding[planted.breeding["yard_id"].isin(chosen)], _made_up(yards, butterflies)]
    )
    task = corridor_task(
        ground.study,
        layers,
        ground.knowledge,
        SimpleNamespace(
            breeding=breeding,
            nectar_stones=planted.nectar_stones.iloc[:0],
            yard_results=planted.yard_results,
            plantings=planted.plantings,
        ),
        butterflies,
    )
    kept = Kept()
    cases = [case_of(task.town, m, ground.study.connectivity.cut, None, kept)[0] for m in task.movements]
    found = invitations_of(task.town, cases, ground.study.connectivity)
    end, spent = time.perf_counter(), [resource.getrusage(w) for w in WHO]
    peaks = [resource.getrusage(w).ru_maxrss / 1024 for w in WHO]
    print(f"rule and {len(estimated):,} estimates {ruled - start:.0f} s")
    print(f"{len(chosen)} plans {planned - ruled:.0f} s")
    print(f"{len(found.table)} invitations {end - planned:.0f} s; together {end - start:.0f} s")
    print(f"processor time here {spent[0].ru_utime:.0f} s, of workers {spent[1].ru_utime:.0f} s")
    print(f"peak {peaks[0]:.0f} MB, largest worker {peaks[1]:.0f} MB")


def _made_up(yards: gpd.GeoDataFrame, butterflies: tuple[str, ...]) -> gpd.GeoDataFrame:
    """Return 2 m2 of breeding ground for each butterfly in the middle of each member's yard."""
    mine = yards[yards["role"] == "member"]
    discs = shapely.buffer(shapely.centroid(mine.geometry.to_numpy()), np.sqrt(2.0 / np.pi), quad_segs=2)
    parts = [
        {"yard_id": mine["yard_id"], "butterfly": b, "state": "planned", "habitat_m2": 2.0, "broods": 1}
        for b in butterflies
    ]
    return pd.concat([gpd.GeoDataFrame(p, geometry=discs, crs=yards.crs) for p in parts], ignore_index=True)


def study_of(name: str, folder: Path) -> Path:
    """Return the study file of a town; what makes the others takes memory, so it is imported here alone."""
    from tests.support.prague import write_study
    from tests.support.random_town import write_random_town

    wishes = tuple(habitat.read_study(STUDY).planting.wishes)
    if name == "random":
        return write_random_town(folder, 500, wishes)
    if name == "prague":
        path = write_study(folder, planned=1)
        text = path.read_text(encoding="utf-8")
        old = 'wishes = ["Danaus plexippus", "Papilio polyxenes", "Phyciodes tharos"]'
        path.write_text(text.replace(old, f"wishes = {json.dumps(wishes)}"), encoding="utf-8")
        return path
    return STUDY


def error(every: int, name: str, first: int) -> None:
    """Compare estimates with plans at equal stakes, and invitations from few plans with those from all."""
    with tempfile.TemporaryDirectory() as folder:
        ground = ground_of(1.0, 2, study_of(name, Path(folder)))
    layers = ground.layers
    keep = [c for c in ("yard_id", "address", "geometry", "area_m2") if c in layers.yards]
    yards = layers.yards[keep].assign(role="candidate", publish=True)
    vectors = layers.vectors | {"yards": replace(layers.vectors["yards"], frame=yards)}
    ids = tuple(yards.loc[may_be_asked(ground), "yard_id"])[first::every]
    third = np.where(np.arange(len(yards)) % 3 == 0, "member", "candidate")
    people = layers.yards["role"].to_numpy() if name == "sample" else third
    alike = replace(ground, layers=replace(layers, vectors=vectors), yard_ids=ids)
    with Executor(2) as executor:
        exact, estimated = plan_round(alike, None, executor), estimate_of(alike, ids, executor)
        start = time.perf_counter()
        closer = closer_estimate_of(alike, ids, executor)
        print(f"{len(ids)} yards looked at closer in {time.perf_counter() - start:.0f} s")
    rows = exact.yard_butterflies[exact.yard_butterflies["yard_id"].isin(ids)]
    plans = rows.pivot_table(index="yard_id", columns="butterfly", values="habitat_m2").loc[list(ids)]
    total = plans[list(estimated)].sum(axis=1)
    ranks = [spearmanr(found.sum(axis=1), total).statistic for found in (estimated, closer)]
    told = "rank correlation of habitat {:.2f}, closer {:.2f}".format(*ranks)
    print(f"{len(ids)} yards, equal money: {told}")
    roles = [
        "other" if y not in ids else r if r == "member" else "candidate"
        for y, r in zip(yards["yard_id"], people, strict=True)
    ]
    _lists(alike, exact, estimated, yards.assign(role=roles))


def _lists(ground: Groundwork, exact: Any, estimated: pd.DataFrame, yards: gpd.GeoDataFrame) -> None:
    layers = replace(
        ground.layers,
        vectors=ground.layers.vectors | {"yards": replace(ground.layers.vectors["yards"], frame=yards)},
    )
    task = corridor_task(ground.study, layers, ground.knowledge, exact, ground.wishes)
    settings = ground.study.connectivity
    cases = [case_of(task.town, m, settings.cut)[0] for m in task.movements]
    asked = sorted(yards.loc[yards["role"] == "candidate", "yard_id"])
    graphs = choice_graphs(cases, asked)
    everyone = choose(graphs, settings.invite, np.zeros(len(asked)))
    own = estimated.reindex(index=yards["yard_id"], columns=list(ground.wishes)).fillna(0.0).to_numpy().T
    anchors, _ = anchors_of(ground.study, layers, ground.knowledge)
    worth = quick_worth(yards, own, anchors, movements_of(ground.study, ground.knowledge, ground.wishes))
    mine = pd.Series(worth, yards["yard_id"])[asked]
    joint = Joint(graphs, 0)
    alone = joint.worth_gains([part.gains(np.arange(len(asked))) for part in joint.parts])
    print(f"rank correlation of what each adds to the corridor alone {spearmanr(mine, alone).statistic:.2f}")
    order = mine.sort_values(ascending=False, kind="stable").index
    print(f"{len(asked)} who might be asked, {settings.invite} on the list")
    for many in (20, 40, 60, 80, 100):
        some = sorted(order[:many])
        got = choose(choice_graphs(cases, some), settings.invite, np.zeros(len(some)))
        part = (got.scores[-1] - got.scores[0]) / (everyone.scores[-1] - everyone.scores[0])
        print(f"plans for the best {many}: {part:.1%} of the gain with plans for all")


if __name__ == "__main__":
    given = [*sys.argv[1:], *("town", "0", "sample", "0")[len(sys.argv) - 1 :]]
    main(given[0], int(given[1]), given[2], int(given[3]))

"""Plans of a study's yards: equal with any number of workers, within one purse, around what stays."""

import dataclasses
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.spatial import KDTree

from habitat.executor import Executor
from habitat.knowledge import load_knowledge
from habitat.pipeline.planting import existing_of, nectar_around, plan_round
from habitat.planting.sites.woody import TRUNK_CLEAR_M
from habitat.suitability import compile_needs
from tests.support.plans import same
from tests.support.quick_ground import quick_ground


def test_two_workers_and_known_sites_change_nothing(eight_yards, planting):
    again = dataclasses.replace(eight_yards, bed_sites=planting.bed_sites)
    with Executor(2) as executor:
        same(plan_round(again, executor=executor), planting)


def test_one_purse_is_kept_and_bounded(eight_yards, planting):
    purse = 0.4 * planting.yard_results["cost"].sum()
    study = eight_yards.study.changed(planting={"total_budget": purse})
    shared = plan_round(dataclasses.replace(eight_yards, study=study, bed_sites=planting.bed_sites))
    yards = eight_yards.layers.yards
    members = shared.yard_results["yard_id"].isin(yards.loc[yards["role"] == "member", "yard_id"])
    assert set(members) == {True, False}
    assert shared.yard_results.loc[members, "cost"].sum() <= purse + 1e-6
    assert shared.yard_results.loc[~members, "cost"].max() <= purse + 1e-6
    assert shared.yard_results["worth"].sum() > 0.4 * planting.yard_results["worth"].sum()
    (split,) = [note for note in shared.notes if note.kind == "purse_split"]
    assert split["spent"] <= split["total"] == purse
    assert split["worth_m2"] <= split["bound_m2"] + 1e-6


def test_a_kept_bed_stays_and_the_rest_is_planned_around_it(eight_yards, planting):
    """One bed of a plan with its plants goes into the layer keep; the yard is planned again."""
    yard_id = planting.beds["yard_id"].value_counts().index[0]
    bed = planting.beds[planting.beds["yard_id"] == yard_id].iloc[0]
    inside = planting.plantings[planting.plantings["bed_id"] == bed["bed_id"]]
    rows = pd.concat([inside[["plant", "count", "geometry"]], pd.DataFrame([bed])[["geometry"]]])
    keep = gpd.GeoDataFrame(rows.reset_index(drop=True), geometry="geometry", crs=planting.beds.crs)
    vectors = eight_yards.layers.vectors
    locked = {**vectors, "keep": dataclasses.replace(vectors["growers"], name="keep", frame=keep)}
    layers = dataclasses.replace(eight_yards.layers, vectors=locked)
    existing, _ = existing_of(layers, eight_yards.knowledge)
    asked = dataclasses.replace(eight_yards, layers=layers, existing=existing, yard_ids=(yard_id,))
    again = plan_round(asked)
    assert len(again.beds)
    assert (again.beds.distance(bed.geometry) > 0.25).all()
    assert (again.plant_points.distance(bed.geometry) > 0.25).all()
    stands = existing[existing["yard_id"] == yard_id].groupby("plant")["count"].sum()
    assert (stands[inside["plant"]].to_numpy() >= inside["count"].to_numpy()).all()
    key = ["yard_id", "butterfly"]
    before, after = (p.yard_butterflies.set_index(key)["leaf_m2"] for p in (planting, again))
    hosts = inside[inside["butterflies"] != ""]
    eaters = {b for text in hosts["butterflies"] for b in text.split("; ")}
    assert eaters
    assert all(after[yard_id, b] > 0 for b in eaters)
    assert before[yard_id].sum() > 0


def test_plants_keep_their_distance_across_beds(eight_yards, planting):
    """The rules spacing.pairs and spacing.stem of run.json, by a search over all pairs of a yard."""
    herbs = eight_yards.knowledge.plants["form"].isin(["forb", "graminoid"])
    spacing = planting.plantings.set_index("planting_id")["spacing_m"]
    points = planting.plant_points
    xy, herb = shapely.get_coordinates(points.geometry), points["plant"].map(herbs).to_numpy(bool)
    apart_m, yard = spacing[points["planting_id"]].to_numpy(float), points["yard_id"].to_numpy()
    i, j = KDTree(xy).query_pairs(apart_m.max(), output_type="ndarray").T
    i, j = i[yard[i] == yard[j]], j[yard[i] == yard[j]]
    found, least = np.linalg.norm(xy[i] - xy[j], axis=1), (apart_m[i] + apart_m[j]) / 2
    near_stem = herb[i] != herb[j]
    assert len(i) > 1_000
    assert near_stem.any()
    assert (found >= np.where(near_stem, np.minimum(least, TRUNK_CLEAR_M), least) - 1e-3).all()


def test_nectar_decides_somewhere_in_the_demo(eight_yards, planting):
    """A stand of milkweed feeds a brood where bloom is short: habitat is leaf x nectar there."""
    table = planting.yard_butterflies
    short = table[(table["habitat_m2"] > 0.0) & (table["nectar"] < 1.0)]
    assert ("08-003", "Danaus plexippus") in set(zip(short["yard_id"], short["butterfly"], strict=True))
    leaf = short["leaf_m2"].clip(upper=eight_yards.study.planting.enough_m2)
    pd.testing.assert_series_equal(short["habitat_m2"], leaf * short["nectar"], check_names=False)


def test_what_candidates_would_plant_feeds_no_neighbour():
    """A bergamot in the yard between two others: it counts for them once its household takes part."""
    knowledge = load_knowledge()
    tables = knowledge, compile_needs(knowledge, assessed=("sun_h",))
    found = {}
    for role in ("candidate", "member"):
        ground = quick_ground(tables, [0, 40, 80], ["member", role, "other"], ["00", "01"])
        point = gpd.GeoDataFrame(
            {"yard_id": ["01"], "plant": ["Monarda fistulosa"]},
            geometry=[shapely.Point(50, 10)],
            crs=ground.layers.crs,
        )
        found[role] = nectar_around(ground, SimpleNamespace(plant_points=point))
    assert found["candidate"] == {}
    assert set(found["member"]) == {"00", "02"}

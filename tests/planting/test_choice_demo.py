"""Planning some yards of the demo town: one process or two, one purse, growers' stock, later rounds."""

import dataclasses
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from habitat.executor import Executor
from habitat.knowledge import load_knowledge
from habitat.pipeline.planting import Groundwork, draws_of, existing_of, plan_round
from habitat.pipeline.reading import read_layers
from habitat.pipeline.survey import survey
from habitat.study.reading import read_study
from habitat.suitability import compile_needs

DEMO = Path(__file__).parents[2] / "sample_geodata" / "study.toml"


@pytest.fixture(scope="module")
def request_of_eight():
    study = read_study(DEMO)
    layers = read_layers(study)
    knowledge = load_knowledge(study.knowledge, study.folder)
    site = survey(layers)
    needs = compile_needs(knowledge, study, site.assessed)
    existing, _ = existing_of(layers, knowledge)
    able = layers.yards.loc[layers.yards["role"].isin(["member", "candidate"]), "yard_id"]
    wishes = tuple(study.planting.wishes)
    return Groundwork(study, layers, site, knowledge, needs, existing, wishes, tuple(able[::15]))


@pytest.fixture(scope="module")
def planting(request_of_eight):
    return plan_round(request_of_eight)


def same(one, two):
    for name in ("beds", "plantings", "plant_points", "yard_results", "yard_butterflies", "breeding"):
        pd.testing.assert_frame_equal(getattr(one, name), getattr(two, name))
    assert one.notes == two.notes


def test_every_yard_has_a_result_with_a_bound(request_of_eight, planting):
    results = planting.yard_results
    assert tuple(results["yard_id"]) == request_of_eight.yard_ids
    assert (results["bound"] >= results["worth"] - 1e-9).all()
    assert (results["gap"] >= 0).all()
    assert results["gap"].median() < 0.15


def test_what_is_chosen_is_drawn(planting):
    """The program and the drawn points agree within 5 %, and no bed holds less than was chosen for it."""
    assert not any("hold fewer plants" in note or "apart" in note for note in planting.notes)
    assert (planting.plantings["count"] == planting.plantings.geometry.map(lambda g: len(g.geoms))).all()


def test_money_of_each_yard_is_kept(request_of_eight, planting):
    yards = request_of_eight.layers.yards.set_index("yard_id")
    for row in planting.yard_results.itertuples():
        budget = yards.loc[row.yard_id, "budget"]
        own = request_of_eight.study.planting.budget if pd.isna(budget) else budget
        assert row.cost <= own + 1e-6


def test_growers_stock_is_kept_by_the_group(request_of_eight, planting):
    growers = request_of_eight.layers.frame("growers")
    bought = planting.plantings.groupby("plant")["count"].sum()
    price = (
        planting.plantings.groupby(["plant", "form"])["cost"].sum()
        / planting.plantings.groupby(["plant", "form"])["count"].sum()
    )
    for row in growers.itertuples():
        local = price.get((row.plant, row.form))
        if local is not None and local <= row.price + 1e-9:
            assert bought[row.plant] <= row.quantity


def test_two_workers_and_known_sites_change_nothing(request_of_eight, planting):
    again = dataclasses.replace(request_of_eight, bed_sites=planting.bed_sites)
    with Executor(2) as executor:
        same(plan_round(again, executor=executor), planting)


def test_one_purse_is_kept_and_bounded(request_of_eight, planting):
    purse = 0.4 * planting.yard_results["cost"].sum()
    study = request_of_eight.study.changed(planting={"total_budget": purse})
    shared = plan_round(dataclasses.replace(request_of_eight, study=study, bed_sites=planting.bed_sites))
    assert shared.yard_results["cost"].sum() <= purse + 1e-6
    assert shared.yard_results["worth"].sum() > 0.4 * planting.yard_results["worth"].sum()
    assert any("One purse of" in note for note in shared.notes)


def with_ph_error(request, sd):
    rasters = {name: source.model_dump() for name, source in request.study.rasters.items()}
    rasters["ph"]["error"] = sd
    study = request.study.changed(rasters=rasters, connectivity={"rank_draws": 24})
    return dataclasses.replace(request, study=study)


def test_habitat_follows_draws_of_the_soil_map(request_of_eight, planting):
    """Exact maps draw nothing; a small error moves habitat a little, soil no host bears takes it away."""
    wishes = request_of_eight.wishes
    none, tiny, wide, absurd = (
        draws_of(with_ph_error(request_of_eight, sd), planting, wishes) for sd in (None, 1e-6, 0.5, 40.0)
    )
    assert none == {}
    assert tiny.keys() == wide.keys() == absurd.keys()
    table = planting.yard_butterflies
    grown = table[(table["role"] != "anchor") & (table["leaf_m2"] > 0)]
    assert set(zip(grown["yard_id"], grown["butterfly"], strict=True)) <= wide.keys()
    assert np.concatenate(list(tiny.values())) == pytest.approx(1.0, abs=1e-4)
    spread = {key: factors.std() for key, factors in wide.items()}
    assert all(len(f) == 24 and (f >= 0.0).all() for f in wide.values())
    assert np.mean([s > 0.01 for s in spread.values()]) > 0.3
    assert np.mean([(f == 0.0).mean() for f in absurd.values()]) > 0.7
    again = draws_of(with_ph_error(request_of_eight, 0.5), planting, wishes)
    assert all(np.array_equal(wide[key], again[key]) for key in wide)


def test_what_a_soil_test_tells_does_not_follow_the_draws(request_of_eight, planting):
    """The error is the map's, and a test is no map: the yard with a test stays, its neighbours do not."""
    request, wishes = with_ph_error(request_of_eight, 40.0), request_of_eight.wishes
    shaken = draws_of(request, planting, wishes)
    yard_id = next(key[0] for key, factors in shaken.items() if (factors == 0.0).any())
    site = dataclasses.replace(request.site, tests={"ph": frozenset({yard_id})})
    tested = draws_of(dataclasses.replace(request, site=site), planting, wishes)
    mine = [key for key in shaken if key[0] == yard_id]
    assert np.concatenate([tested[key] for key in mine]) == pytest.approx(1.0, abs=1e-6)
    assert np.mean([(tested[key] == 0.0).any() for key in shaken if key not in mine]) > 0.7


def test_a_kept_bed_stays_and_the_rest_is_planned_around_it(request_of_eight, planting):
    """One bed of a plan with its plants goes into the layer keep; the yard is planned again."""
    yard_id = planting.beds["yard_id"].value_counts().index[0]
    bed = planting.beds[planting.beds["yard_id"] == yard_id].iloc[0]
    inside = planting.plantings[planting.plantings["bed_id"] == bed["bed_id"]]
    rows = pd.concat([inside[["plant", "count", "geometry"]], pd.DataFrame([bed])[["geometry"]]])
    keep = gpd.GeoDataFrame(rows.reset_index(drop=True), geometry="geometry", crs=planting.beds.crs)
    vectors = request_of_eight.layers.vectors
    locked = {**vectors, "keep": dataclasses.replace(vectors["growers"], name="keep", frame=keep)}
    layers = dataclasses.replace(request_of_eight.layers, vectors=locked)
    existing, _ = existing_of(layers, request_of_eight.knowledge)
    asked = dataclasses.replace(request_of_eight, layers=layers, existing=existing, yard_ids=(yard_id,))
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

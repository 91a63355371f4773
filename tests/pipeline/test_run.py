"""The main job on geometry that nobody here drew: momepy's Prague parcels, planting solved on 40 of them."""

import json
import math

import geopandas as gpd
import networkx as nx
import numpy as np
import pytest
import shapely

import habitat
from habitat.pipeline.reading import read_layers
from habitat.pipeline.survey import survey
from habitat.report.write import write_plan
from tests.support.plan_rules import broken
from tests.support.prague import parcels, write_study


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    path = write_study(tmp_path_factory.mktemp("prague"))
    return habitat.run(habitat.read_study(path))


def test_open_ground_without_setbacks_is_parcels_minus_buildings(tmp_path):
    """235,612 m2 within 5: computed with shapely from the data set itself, in UTM 33N (true scale)."""
    yards, buildings = parcels()
    expected = yards.geometry.difference(buildings.union_all()).area.sum()
    assert expected == pytest.approx(235_612, abs=5)
    study = habitat.read_study(write_study(tmp_path)).changed(
        site={"setbacks": {"all.all": 0.0}, "steep_deg": 90.0}
    )
    site = survey(study, read_layers(study))
    herb = site.open_ground[site.open_ground["growth_form"] == "herb"]
    assert len(herb) == len(yards)
    assert herb.geometry.area.sum() == pytest.approx(expected, abs=5)


def test_every_parcel_has_a_row_and_only_participants_a_plan(plan):
    assert len(plan.yards) == 407
    assert plan.headline["counts"]["yards_planned"] == 40
    planned = set(plan.yards.loc[plan.yards["role"] != "other", "yard_id"])
    assert set(plan.plantings["yard_id"]) <= planned
    assert plan.plantings["yard_id"].nunique() >= 30


def test_every_plant_lies_in_its_bed_and_in_its_yards_open_ground(plan):
    ground = {
        (row.yard_id, row.growth_form): row.geometry.buffer(1e-6) for row in plan.open_ground.itertuples()
    }
    beds = plan.beds.set_index("bed_id")
    assert len(plan.plant_points) > 100
    for point in plan.plant_points.itertuples():
        bed = beds.loc[point.bed_id]
        assert bed["yard_id"] == point.yard_id
        assert bed.geometry.buffer(1e-6).covers(point.geometry)
        assert ground[point.yard_id, bed["growth_form"]].covers(point.geometry)


def test_counts_agree_between_tables(plan):
    assert plan.plantings["count"].sum() == len(plan.plant_points)
    per = plan.plant_points.groupby("planting_id").size()
    assert (plan.plantings.set_index("planting_id")["count"] == per).all()


def test_real_parcels_keep_the_firm_rules_of_planting(plan):
    assert broken(plan.plantings, plan.plant_points, plan.beds, plan.layers.frame("buildings")) == {}


def spread_of(plan, butterfly, state):
    """Return (areas by place, geometry by place) of a state, from the plan's tables and breeding ground."""
    rows = plan.yard_butterflies[plan.yard_butterflies["butterfly"] == butterfly].set_index("yard_id")
    use_plan = (rows["role"] == "member") | ((rows["role"] == "candidate") & (state == "everyone"))
    area = np.where((rows["role"] == "anchor") | use_plan, rows["habitat_m2"], rows["habitat_before_m2"])
    areas = {y: float(a) for y, a in zip(rows.index, area, strict=True) if a > 0}
    breeding = plan.breeding[plan.breeding["butterfly"] == butterfly]
    shapes = {}
    for place in areas:
        if place.startswith("anchor: "):
            anchors = plan.layers.frame("anchors")
            shapes[place] = anchors.loc[anchors["name"] == place.removeprefix("anchor: "), "geometry"].iloc[0]
        else:
            wanted = "planned" if use_plan[place] else "before"
            part = breeding[(breeding["yard_id"] == place) & (breeding["state"] == wanted)]
            shapes[place] = shapely.union_all(part.geometry.to_numpy())
    return areas, shapes


@pytest.mark.parametrize("butterfly", ["Danaus plexippus", "Papilio polyxenes", "Phyciodes tharos"])
@pytest.mark.parametrize("state", ["members", "everyone"])
def test_corridor_agrees_with_plain_networkx(plan, butterfly, state):
    """Equivalent connected area (Saura et al. 2011, Ecol. Indic. 11:407-416) by plain Dijkstra on -ln p."""
    areas, shapes = spread_of(plan, butterfly, state)
    stones = plan.headline["butterflies"][butterfly][state].get("stepping_stones", 0)
    median = float(plan.knowledge.butterflies.loc[butterfly, "typical_movement_median_m"])
    k, hop = math.log(2) / median, 4.32 * median
    graph = nx.Graph()
    graph.add_nodes_from(areas)
    places = list(areas)
    for a, one in enumerate(places):
        for two in places[a + 1 :]:
            gap = shapes[one].distance(shapes[two])
            if gap <= hop:
                graph.add_edge(one, two, weight=k * gap)
    total = 0.0
    for one, reach in nx.all_pairs_dijkstra_path_length(graph):
        total += sum(areas[one] * areas[two] * math.exp(-d) for two, d in reach.items())
    entry = plan.headline["butterflies"][butterfly][state]
    # Stepping stones of area 0 may add paths that this plain sum does not have, never take any away.
    slack = 1e-6 if not stones else 0.05
    assert entry["equivalent_area_m2"] == pytest.approx(math.sqrt(total), rel=slack)


def test_written_results_open_elsewhere(plan, tmp_path):
    folder = write_plan(plan, tmp_path / "out")
    for layer in ("yards", "open_ground", "beds", "plantings", "plant_points", "links", "invitations"):
        frame = gpd.read_file(folder / "plan.gpkg", layer=layer)
        assert frame.crs.to_epsg() == 32617
    run = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    assert run["headline"]["counts"]["yards"] == 407

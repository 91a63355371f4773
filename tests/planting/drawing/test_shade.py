"""Trees first: the plan's own trees stand and have grown before the rest is chosen in their shade."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely.geometry import box

import habitat
from habitat.errors import StudyError
from habitat.pipeline.survey import survey
from habitat.planting.drawing.draw import bed_sun_h
from habitat.planting.drawing.shade import tall_plants, with_plan_trees
from habitat.planting.sites.woody import TALL_SHRUB_M
from habitat.planting.types import Allocation, Grown
from habitat.report.maps.spot import draw_spot
from habitat.report.words.en import english
from habitat.site.planned import sun_with_trees
from habitat.sun.horizon import horizon_view
from tests.support.choice_yards import bed, facts_of
from tests.support.remarks import said
from tests.support.yards import KNOWLEDGE, PLANTS

WEST, SOUTH = 337_500.0, 4_418_200.0


TREE, SUN_PLANT = "Liriodendron tulipifera", "Asclepias tuberosa"


STUDY = f"""
[study]
name = "Two yards"
date = 2026-03-01
crs = "EPSG:32617"

[layers.yards]
path = "yards.gpkg"

[layers.buildings]
path = "houses.gpkg"

[planting]
plants = ["{TREE}", "{SUN_PLANT}"]
wishes = ["Papilio glaucus", "Danaus plexippus"]
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A yard with room for a tree, and north of it one with beds only, between two tall houses."""
    folder = tmp_path_factory.mktemp("shade")
    yards = [box(WEST, SOUTH, WEST + 24, SOUTH + 17), box(WEST, SOUTH + 17, WEST + 24, SOUTH + 24)]
    sides = [(WEST - 11, SOUTH + 8), (WEST + 27, SOUTH + 8)]
    houses = [box(x, y, x + 8, y + 24) for x, y in sides]
    gpd.GeoDataFrame({"yard_id": ["south", "north"]}, geometry=yards, crs=32617).to_file(
        folder / "yards.gpkg"
    )
    gpd.GeoDataFrame({"height_m": [12.0, 12.0]}, geometry=houses, crs=32617).to_file(folder / "houses.gpkg")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def kept_out(folder):
    return habitat.run(habitat.read_study(folder / "study.toml"))


@pytest.fixture(scope="module")
def allowed(folder):
    study = habitat.read_study(folder / "study.toml").changed(planting={"allow_falling_class": True})
    return habitat.run(study)


def sentences(plan):
    return list(map(english(), plan.notes))


def told(plan, yard_id):
    results = plan.yard_results.set_index("yard_id")
    return said(results.loc[yard_id, "relaxed"])


def test_a_sun_plant_north_of_a_planned_tree_is_named_and_kept_out(kept_out):
    planted = set(zip(kept_out.plantings["yard_id"], kept_out.plantings["plant"], strict=True))
    assert ("south", TREE) in planted
    assert ("north", SUN_PLANT) not in planted
    assert "no butterfly milkweed in one place that it would suit today" in told(kept_out, "north")
    assert "will shade it there, from moderately suitable to marginally suitable" in told(kept_out, "north")
    assert any("kept out" in note and "allow_falling_class" in note for note in sentences(kept_out))


def test_the_study_can_allow_it_and_is_told(allowed):
    north = allowed.plantings[allowed.plantings["yard_id"] == "north"]
    assert set(north["plant"]) == {SUN_PLANT}
    assert "no lasting light for the butterfly milkweed" in told(allowed, "north")
    assert "the study allows it" in told(allowed, "north")


def test_fit_and_sun_of_beds_are_those_under_the_grown_tree(allowed):
    """The bed's sun is the mean of the survey's raster with the tree on it, worked out here once more."""
    site = survey(allowed.study, allowed.layers)
    trees = allowed.plant_points[allowed.plant_points["plant"] == TREE]
    frame = trees[["height_m", "crown_m", "geometry"]].assign(evergreen=False)
    grown = sun_with_trees(site, frame).rasters["sun_h"]
    north = allowed.beds[allowed.beds["yard_id"] == "north"].iloc[0]
    xx, yy = np.meshgrid(site.grid.x, site.grid.y)
    inside = shapely.contains_xy(north.geometry, xx, yy)
    assert north["sun_h_mean"] == pytest.approx(grown[inside].mean(), abs=0.25)
    assert north["sun_h_mean"] < site.rasters["sun_h"][inside].mean() - 0.2
    assert allowed.site.rasters["sun_h"] == pytest.approx(site.rasters["sun_h"], nan_ok=True)


def test_the_tree_is_not_chosen_anew_and_keeps_its_fit(kept_out, allowed):
    for plan in (kept_out, allowed):
        tree = plan.plantings[plan.plantings["plant"] == TREE]
        assert (tree["fit"] > 0.9).all()
        assert (plan.beds.loc[plan.beds["growth_form"] == "tree", "sun_h_mean"] > 6).all()
        assert len(plan.plant_points[plan.plant_points["plant"] == TREE]) == tree["count"].sum()
    places = [p.plant_points.loc[p.plant_points["plant"] == TREE, "geometry"] for p in (kept_out, allowed)]
    assert shapely.get_coordinates(places[0]) == pytest.approx(shapely.get_coordinates(places[1]))


def test_without_heights_it_is_said_that_shade_is_not_worked_out(folder):
    study = habitat.read_study(folder / "study.toml")
    plain = study.model_dump()
    del plain["layers"]["buildings"]
    bare = habitat.run(habitat.study.parse_study(plain, study.path))
    assert any("tall shrubs (1) is not worked out" in note for note in sentences(bare))


def test_with_nothing_to_choose_no_tree_grows(folder):
    plan = habitat.run(habitat.read_study(folder / "study.toml").changed(planting={"budget": 0.0}))
    assert plan.plantings.empty
    assert plan.plant_points.empty
    assert set(plan.yard_results["yard_id"]) == {"south", "north"}
    assert not any("tall shrubs" in note for note in sentences(plan))


def test_a_study_that_leaves_no_plant_is_refused(folder):
    study = habitat.read_study(folder / "study.toml").changed(planting={"exclude": [TREE, SUN_PLANT]})
    with pytest.raises(StudyError, match="leave no plant to choose from"):
        habitat.run(study)


def test_with_nothing_but_the_tree_to_choose_the_rest_stays_empty(folder):
    """The second choice, in the tree's shade, has no plant to choose from."""
    plan = habitat.run(habitat.read_study(folder / "study.toml").changed(planting={"plants": [TREE]}))
    assert set(plan.plantings["plant"]) == {TREE}
    assert (plan.plantings["yard_id"] == "south").all()
    assert "the rest has the sun that they leave" in " ".join(sentences(plan))


def test_tall_are_trees_and_shrubs_above_eye_height_but_no_vines():
    tall, table = tall_plants(KNOWLEDGE), KNOWLEDGE.plants
    assert {"Liriodendron tulipifera", "Lindera benzoin"} <= tall
    assert not {"Lonicera sempervirens", "Rhus aromatica", "Eutrochium fistulosum"} & tall
    assert (table.loc[sorted(tall), "height_m"] > TALL_SHRUB_M).all()


def test_the_view_from_the_darkest_bed_holds_the_grown_tree(allowed, tmp_path):
    """Seen from the bed north of it the tree hides the southern sky that is free today."""
    tree = allowed.plant_points.loc[allowed.plant_points["plant"] == TREE, "geometry"].iloc[0]
    north = allowed.beds[allowed.beds["yard_id"] == "north"].iloc[0]
    spot = north.geometry.representative_point()
    grown = with_plan_trees(allowed.site, allowed.plant_points, KNOWLEDGE)
    toward = round(np.degrees(np.arctan2(tree.x - spot.x, tree.y - spot.y))) % 360
    before, after = (
        horizon_view(*site.heights(), spot.x, spot.y).horizon_deg[toward] for site in (allowed.site, grown)
    )
    height = 30.0 * 0.95  # a ray through cells may miss the very top
    assert after >= np.degrees(np.arctan(height / spot.distance(tree))) - 2
    assert after > before + 20
    assert next(path.name for path in draw_spot(allowed, tmp_path)).startswith("dark-bed")


def test_a_bed_of_tall_shrubs_alone_has_todays_sun():
    """They stand above the shade that they cast, so the bed is not called dark for it."""
    shrub = Allocation(1, "Lindera benzoin", "pot", 3, 30.0, "host", (), "")
    herb = Allocation(1, "Viola sororia", "plug", 3, 9.0, "host", (), "")
    none = np.zeros(len(PLANTS), bool)
    grown = Grown((shrub,), {}, none.astype("uint8"), none.astype("uint8"), none, none, frozenset(), 7.5)
    facts = facts_of(("Lindera benzoin", "Viola sororia"))
    site = bed(1, facts, sun_h=0.5, grown=grown)
    assert bed_sun_h(site, site.polygon, [shrub], {}) == 7.5
    assert bed_sun_h(site, site.polygon, [shrub, herb], {}) == 0.5


def test_the_tree_of_a_yard_that_may_never_join_shades_no_member(folder, kept_out):
    (folder / "people.csv").write_text("yard_id,role\nsouth,candidate\nnorth,member\n", encoding="utf-8")
    text = STUDY.replace("[planting]", '[layers.participants]\npath = "people.csv"\n\n[planting]')
    (folder / "asked.toml").write_text(text, encoding="utf-8")
    plan = habitat.run(habitat.read_study(folder / "asked.toml"))
    planted = set(zip(plan.plantings["yard_id"], plan.plantings["plant"], strict=True))
    assert ("south", TREE) in planted
    assert ("north", SUN_PLANT) in planted
    assert ("north", SUN_PLANT) not in set(
        zip(kept_out.plantings["yard_id"], kept_out.plantings["plant"], strict=True)
    )

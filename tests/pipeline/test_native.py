"""Plants that a study leaves out since they are not native to its state, and yards that no tables serve."""

import geopandas as gpd
import pytest
from pyproj import Transformer

from habitat.errors import StudyError
from habitat.knowledge import load_knowledge
from habitat.knowledge.place import knowledge_of_place
from habitat.pipeline.native import native_notes, not_native
from habitat.settings.knowledge import KnowledgeSettings
from habitat.study.model import Study
from tests.commands.calls import call
from tests.layers import builders as make

LAYERS = {"yards": {"path": "yards.gpkg"}}
PLACES = {
    "Arizona": ("EPSG:32612", -112.0, 33.5),
    "Edwards Plateau": ("EPSG:32614", -98.3, 30.2),
    "black clay": ("EPSG:32614", -96.8, 32.6),
    "sandy loam": ("EPSG:32614", -98.0, 33.0),
}


def study_of(**sections):
    return Study(layers=LAYERS, **sections)


def known(study, yards=None):
    return knowledge_of_place(
        study.knowledge, make.yards() if yards is None else yards, states=study.study.states
    )


def written(folder, place):
    """A study of two yards with a house between them somewhere else on earth."""
    crs, longitude, latitude = PLACES[place]
    east, north = Transformer.from_crs(4326, crs, always_xy=True).transform(longitude, latitude)
    shapes = {"one": make.box(0, 0, 30, 40), "two": make.box(40, 0, 70, 40)}
    yards = make.yards(shapes)
    moved = yards.set_geometry(yards.translate(east - make.WEST, north - make.SOUTH)).set_crs(
        crs, allow_override=True
    )
    moved.to_file(folder / "yards.gpkg")
    house = make.yards({"h": make.box(10, 14, 20, 24)}, height_m=5.0)
    house = house.set_geometry(house.translate(east - make.WEST, north - make.SOUTH))
    house.set_crs(crs, allow_override=True).to_file(folder / "houses.gpkg")
    text = '[study]\ndate = 2026-03-01\n[layers.yards]\npath = "yards.gpkg"\n'
    text += '[layers.buildings]\npath = "houses.gpkg"\n'
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return str(folder / "study.toml")


def test_what_is_not_recorded_in_the_state_is_left_out_and_named():
    study = study_of(study={"states": ["OH"]})
    knowledge = known(study)
    out = not_native(study, knowledge)
    recorded = knowledge.native_states["native_states"].str.split()
    assert out == {p for p, states in recorded.items() if "OH" not in states}
    told = " ".join(native_notes(study, knowledge, make.yards()))
    assert all(knowledge.plants.at[p, "common_name"] in told for p in out)
    assert "not recorded native in Ohio" in told


def test_a_study_may_let_them_in():
    first = study_of(study={"states": ["OH"]})
    (one, *others) = sorted(not_native(first, known(first)))
    named = study_of(study={"states": ["OH"]}, planting={"allow_not_native": [one]})
    assert not_native(named, known(named)) == set(others)
    every = study_of(study={"states": ["OH"]}, planting={"allow_not_native": ["all"]})
    assert not_native(every, known(every)) == set()


def test_codes_of_states_are_two_capitals():
    with pytest.raises(ValueError, match="no code of a state"):
        study_of(study={"states": ["Ohio"]})


def test_a_run_in_a_desert_is_refused_and_says_how_to_go_on(tmp_path):
    study = written(tmp_path, "Arizona")
    with pytest.raises(StudyError, match=r"outside every region .*elsewhere = true"):
        call("run", study, "--out", str(tmp_path / "plan"), "--quiet", "--workers", "1")
    assert not (tmp_path / "plan").exists()
    assert "habitat run refuses it" in " ".join(call("check", study, code=2).split())


@pytest.mark.parametrize("place", ["Edwards Plateau", "black clay", "sandy loam"])
def test_yards_of_the_second_region_get_plants_of_that_region_and_state(place, tmp_path):
    call("run", written(tmp_path, place), "--out", str(tmp_path / "plan"), "--quiet", "--workers", "1")
    planned = set(gpd.read_file(tmp_path / "plan" / "plan.gpkg", layer="plantings")["plant"])
    tables = load_knowledge(KnowledgeSettings(region="south-central"))
    assert planned
    assert planned <= set(tables.plants.index)
    assert all("TX" in tables.native_states.at[plant, "native_states"].split() for plant in planned)

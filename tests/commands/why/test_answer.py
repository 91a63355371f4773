"""``habitat why`` on odd yards: what the plan keeps out, what has no room, what nobody knows."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS
from shapely import Polygon, box

from habitat.commands.why.answer import _where, explain_plant
from habitat.commands.why.place import YardPlace
from habitat.grid import Grid
from habitat.site.types import SiteWindow
from habitat.suitability.explain import best_place, class_areas
from habitat.suitability.fit import Scores
from tests.commands.calls import call
from tests.layers import builders as make

SHAPES = {name: make.box(40 * k, 0, 40 * k + 36, 40) for k, name in enumerate(("calm", "sprayed", "family"))}
HOUSES = [make.box(40 * k + 10, 10, 40 * k + 26, 24) for k in range(3)]


def write(folder, *, houses=True, soil=None):
    make.yards(SHAPES).to_file(folder / "yards.gpkg")
    layers = {"yards": "yards.gpkg"}
    if houses:
        make.yards({str(k): shape for k, shape in enumerate(HOUSES)}, height_m=5.0).to_file(folder / "h.gpkg")
        (folder / "people.csv").write_text(
            "yard_id,role,sprayed,children,pets,max_height_m\ncalm,member,,,,\nsprayed,member,yes,,,\n"
            "family,member,,yes,,1.0\n",
            encoding="utf-8",
        )
        layers |= {"buildings": "h.gpkg", "participants": "people.csv"}
    rasters = {}
    if soil is not None:
        make.raster(folder, soil, "ph.tif", nodata=np.nan)
        rasters = {"ph": "ph.tif"}
    return make.study(folder, layers, rasters)


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    return write(tmp_path_factory.mktemp("street"))


def test_a_sprayed_yard_is_told_that_it_gets_no_hosts(street):
    """It would be a trap, however well the ground suits the plant."""
    calm, sprayed = (explain_plant(street, yard, "swamp milkweed") for yard in ("calm", "sprayed"))
    assert (calm["kept_out"], calm["class"]) == ("", sprayed["class"])
    assert "keeps it out of this yard: caterpillars eat it, and the yard is sprayed" in sprayed["kept_out"]
    assert "it would be a trap" in sprayed["kept_out"]
    assert sprayed["alternatives"]
    assert all(row["kept_out"] for row in sprayed["alternatives"])  # milkweeds all
    star = explain_plant(street, "sprayed", "Liatris spicata")
    assert star["kept_out"] == ""  # no host: its nectar may come in


def test_households_and_heights_keep_plants_out_and_cautions_are_told(street):
    family = explain_plant(street, "family", "swamp milkweed")
    assert "taller than the 1 m allowed" in family["kept_out"]
    cardinal = explain_plant(street, "family", "Lobelia cardinalis")["kept_out"]  # class 1
    assert "among the most poisonous plants, and children live here" in cardinal
    assert any("teach children not to taste it" in line for line in family["advice"])
    tall = explain_plant(street, "family", "Vernonia gigantea")
    assert "taller than the 1 m allowed" in tall["kept_out"]
    aster = explain_plant(street, "calm", "Solidago rugosa")["alternatives"]
    barred = [bool(row["kept_out"]) for row in aster]
    assert barred == sorted(barred)  # what may come in stands first


def test_alternatives_of_other_growth_forms_stand_on_their_own_ground(street):
    """No oak has room here; a shrub that feeds one of its butterflies or moths has."""
    found = explain_plant(street, "calm", "Quercus alba")
    assert any(line.startswith("Room: its crown is 20 m wide") for line in found["advice"])
    names = {row["plant"] for row in found["alternatives"]}
    assert "Salix humilis" in names  # a willow of 3 m
    assert not {name for name in names if name.startswith("Quercus")}


def test_what_is_unknown_is_undecided_not_unsuitable(tmp_path):
    soil = np.full((8, 24), 6.5)
    soil[:, :4] = np.nan  # cells of 5 m: the western 20 of the first yard's 36 m
    result = explain_plant(write(tmp_path, soil=soil), "calm", "swamp milkweed")
    areas = result["areas_m2"]
    assert areas["N"] == 0.0
    assert areas[""] > 0.9 * areas["S1"] > 0.0
    assert "m2 undecided, since something that matters is unknown there" in result["where"]


def test_without_buildings_no_ground_is_called_open(tmp_path):
    result = explain_plant(
        write(tmp_path, houses=False, soil=np.full((8, 24), 6.5)), "calm", "swamp milkweed"
    )
    assert "1440 m2 of the yard, built ground with it" in result["sentence"]
    assert "open ground" not in result["sentence"] + result["where"].lower().replace("what is open", "")


def test_what_only_soil_tests_tell_is_asked_of_a_test_not_of_a_layer(tmp_path):
    path = write(tmp_path)
    (tmp_path / "tests.csv").write_text("yard_id,ph\nfamily,6.5\n", encoding="utf-8")
    path.write_text(path.read_text() + '\n[layers.soil_tests]\npath = "tests.csv"\n', encoding="utf-8")
    told = " ".join(explain_plant(path, "calm", "swamp milkweed")["advice"])
    assert "for want of a soil test in this yard: soil pH." in told
    assert "for want of a layer: drainage" in told


def test_a_measured_yard_does_not_doubt_its_soil(tmp_path):
    """The error that a map states is the map's; where somebody tested the soil it has no say."""
    path = write(tmp_path, soil=np.full((8, 24), 7.2))
    (tmp_path / "tests.csv").write_text("yard_id,ph\ncalm,7.2\n", encoding="utf-8")
    text = path.read_text().replace('path = "ph.tif"', 'path = "ph.tif"\nerror = 0.5')
    path.write_text(text + '\n[layers.soil_tests]\npath = "tests.csv"\n', encoding="utf-8")
    calm, other = (explain_plant(path, yard, "swamp milkweed") for yard in ("calm", "sprayed"))
    assert calm["chance"] is None
    assert "Measured in this yard, so that no error of a map counts: soil pH." in calm["sure"]
    assert 0.5 < other["chance"] < 0.9


def test_how_sure_not_suitable_is_tells_the_chance_of_better(tmp_path):
    """Of "not suitable" it says nothing that the truth is "that or better": it always is."""
    path = write(tmp_path, soil=np.full((8, 24), 7.9))
    path.write_text(path.read_text().replace('path = "ph.tif"', 'path = "ph.tif"\nerror = 0.2'))
    told = " ".join(explain_plant(path, "calm", "swamp milkweed")["sure"])
    assert "not suitable (N). With the errors that the maps state, it is better with a chance of 3" in told


def test_a_strip_between_the_middles_of_cells_is_open():
    """A bed 0.4 m wide covers no cell's middle on a grid of 1 m, and is there all the same."""
    grid = Grid.from_bounds((0, 0, 20, 20), 1.0, CRS.from_epsg(32617))
    strip = shapely.box(3.05, 2.0, 3.45, 8.0)
    none = pd.DataFrame()
    place = YardPlace(pd.Series(), SiteWindow(grid, {}), {"herb": strip}, shapely.Polygon(), none, {})
    assert place.cells("herb").sum() == 6


@pytest.fixture(scope="module")
def roomy(study):
    """A parcel with room to plant: the first of the participants."""
    return (Path(study).parent / "participants.csv").read_text(encoding="utf-8").splitlines()[1].split(",")[0]


def test_why_says_needs_closed_ground_and_alternatives(study, roomy):
    result = json.loads(call("why", study, "--yard", roomy, "--plant", "swamp milkweed", "--json", "--quiet"))
    assert {n["need"] for n in result["needs"]} >= {"sun", "soil pH", "drainage", "soil texture"}
    assert 0 <= result["best_fit"] <= 1
    assert result["class"] in {"S1", "S2", "S3", "N", ""}
    assert all(a["plant"].startswith("Asclepias") for a in result["alternatives"])
    assert "winter cold" in result["not_assessed"]
    text = call("why", study, "--yard", roomy, "--plant", "swamp milkweed", "--quiet")
    assert "Swamp milkweed" in text
    assert f" {result['needs'][0]['score']:.2f}" in text
    assert "██" in text
    assert "unknown" not in next(line for line in text.splitlines() if "winter cold" in line)
    assert "It fits best" in text
    assert sum(result["areas_m2"].values()) > 0
    assert (result["instead"] in text) == bool(result["alternatives"])
    assert not {"True", "False"} & set(text.split())


@pytest.mark.parametrize(
    ("row", "col", "words"),
    [
        (1, 18, "about 12 m north-east of the yard's middle"),
        (18, 10, "about 9 m south of the yard's middle"),
        (10, 10, "in the yard's middle"),
    ],
)
def test_why_says_where_a_plant_fits_best(row, col, words):
    """A yard of 20 x 20 m in cells of 1 m: one cell of fit 1, the rest 0.6 (moderately suitable)."""
    grid = Grid.from_bounds((0, 0, 20, 20), 1.0, CRS.from_epsg(32617))
    low = np.full(grid.shape, 0.6)
    low[row, col] = 1.0
    open_cells = np.ones(grid.shape, bool)
    yard, found = box(0, 0, 20, 20), Scores(low, low, np.zeros(low.shape, np.uint8))
    place = YardPlace(
        pd.Series({"geometry": yard}), SiteWindow(grid, {}), {"herb": yard}, Polygon(), pd.DataFrame(), {}
    )
    areas = class_areas(found, open_cells, 1.0, (0.75, 0.5, 0.25))
    told = _where(best_place(low, open_cells), found, open_cells, place, areas)
    assert words in told
    assert "as well on 1 m2 in all" in told
    assert "1 m2 highly suitable, 399 m2 moderately suitable." in told

"""Small studies from which one layer is taken away each: the sheet names it where the decision is made."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely

from habitat.errors import StudyError
from habitat.pipeline.reading import read_layers
from habitat.pipeline.run import run
from habitat.pipeline.survey import survey
from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.known import UNSEEN_WORDS, old_words, sun_words, unseen_words
from habitat.report.sheets.words import MARKED, measure_lines, unknown_lines
from habitat.report.words.numbers import Units
from habitat.study.reading import read_study
from tests.layers import builders as make

YARD = "TB-01"
TRACED = {
    "buildings": [make.box(8, 14, 20, 24), make.box(46, 12, 57, 22)],
    "paving": [make.box(21, 0, 24, 24), make.box(58, 0, 61, 22)],
    "trees": [shapely.Point(make.WEST + x, make.SOUTH + 33) for x in (6, 50)],
    "fences": [make.box(0, 24, 30, 40).boundary, make.box(40, 22, 65, 36).boundary],
    "wires": [shapely.LineString([(make.WEST - 5, make.SOUTH - 1), (make.WEST + 110, make.SOUTH - 1)])],
    "buried": [
        shapely.LineString([(make.WEST + x, make.SOUTH - 2), (make.WEST + x, make.SOUTH + 14)])
        for x in (12, 50)
    ],
    "septic": [make.box(22, 28, 29, 38), make.box(58, 26, 64, 34)],
    "water": [make.box(-3, 41, 70, 44)],
    "streets": [make.box(-20, -12, 130, -6)],
}
SOIL = {"ph": 6.4, "drainage": 5, "depth_cm": 120, "sand_pct": 40, "clay_pct": 20}
NAMED = {
    **UNSEEN_WORDS,
    "buildings": "No building outlines were given",
    "ph": "soil reaction (pH)",
    "drainage": "soil drainage",
    "sand_pct": "soil texture",
    "depth_cm": "depth of soil",
}
"""Layer or raster -> what the sheet says when it is taken away: twelve of them."""


def study_of(folder, without="", **more):
    """Write an invented street of three yards with everything that a study can hold, but for one thing."""
    folder.mkdir(exist_ok=True)
    make.yards(address=make.ADDRESSES).to_file(folder / "yards.gpkg")
    layers = {"yards": "yards.gpkg", **more}
    for name, shapes in TRACED.items():
        frame = gpd.GeoDataFrame({"name": [name] * len(shapes)}, geometry=shapes, crs=make.CRS)
        if name in ("buildings", "trees"):
            frame["height_m"] = 6.0
        frame.to_file(folder / f"{name}.gpkg")
        layers.setdefault(name, f"{name}.gpkg")
    rasters = {}
    for name, value in SOIL.items():
        west, south = make.WEST - 100, make.SOUTH - 100
        place = make.Affine(10, 0, west, 0, -10, south + 300)
        make.raster(folder, np.full((30, 30), value), f"{name}.tif", transform=place)
        rasters[name] = f"{name}.tif"
    layers.pop(without, None)
    rasters.pop(without, None)
    return read_study(make.study(folder, layers, rasters, 'crs = "EPSG:32617"'))


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    return run(study_of(tmp_path_factory.mktemp("whole")), yard_ids=(YARD,))


def seen_with(whole, study):
    """Return the yard's facts were its plan made with what another study knows."""
    layers = read_layers(study)
    site = survey(study, layers)
    return FactFinder(replace(whole, study=study, layers=layers, site=site)).of(YARD)


def named(facts):
    """Return what the lines on what is not known name, by layer or raster."""
    lines = unknown_lines(facts)
    obstacles, needs, houses = (
        next((line for line in lines if line.startswith(start)), "")
        for start in ("No layer tells of", "Not assessed", "No building")
    )
    at = {name: obstacles if name in UNSEEN_WORDS else needs for name in NAMED} | {"buildings": houses}
    return {name for name, words in NAMED.items() if words in at[name]}


def test_where_all_is_given_none_of_it_is_named(whole):
    assert named(FactFinder(whole).of(YARD)) == set()
    assert unseen_words(FactFinder(whole).of(YARD)) == ""


@pytest.mark.parametrize("lacking", NAMED)
def test_what_is_taken_away_is_named_on_the_sheet(whole, tmp_path, lacking):
    facts = seen_with(whole, study_of(tmp_path / "study", lacking))
    assert named(facts) == {lacking}
    asked = measure_lines(facts, Units("us"))
    assert (lacking in MARKED) == asked[0].startswith(f"Mark {NAMED[lacking]}")
    assert ("at most" in sun_words(facts, 7.0)) == (lacking == "trees")
    if lacking in UNSEEN_WORDS:
        assert unseen_words(facts) == NAMED[lacking]


def test_what_was_mapped_long_ago_is_told_beside_the_sun_and_what_is_not_known(whole, tmp_path):
    """The study is of March 2026; a year without a day may be its last."""
    dates = {"trees": "2015", "paving": 2019, "fences": "2021-02-01", "wires": "2021", "septic": "2026"}
    layers = {name: {"path": f"{name}.gpkg", "date": date} for name, date in dates.items()}
    facts = seen_with(whole, study_of(tmp_path / "study", **layers))
    line = "Trees as mapped in 2015, drive and walks as mapped in 2019 and fences as mapped in 2021: "
    assert old_words(facts) == f"{line}newer ones are not drawn."
    assert old_words(facts) in unknown_lines(facts)
    assert sun_words(facts, 7.0) == "7.0 h (trees as mapped in 2015)"
    undated = FactFinder(whole).of(YARD)
    assert (old_words(undated), sun_words(undated, 7.0)) == ("", "7.0 h")


@pytest.mark.parametrize(
    ("date", "told"),
    [("2062", "after study.date"), ("long ago", "date"), (20190, "a year or a date"), (2019.5, "a year")],
)
def test_a_date_of_a_layer_that_cannot_be_is_refused(tmp_path, date, told):
    with pytest.raises(StudyError, match=told):
        study_of(tmp_path / "study", trees={"path": "trees.gpkg", "date": date})


def test_a_soil_test_never_makes_a_sheet_claim_that_all_is_known(whole, tmp_path):
    folder = tmp_path / "study"
    folder.mkdir()
    row = f"{YARD},6.4,loam,well drained,120,7"
    (folder / "tests.csv").write_text(
        f"yard_id,ph,texture,drainage,depth_cm,sun_h\n{row}\n", encoding="utf-8"
    )
    for lacking in ("trees", "paving"):
        facts = seen_with(whole, study_of(folder, lacking, soil_tests="tests.csv"))
        assert named(facts) == {lacking}
        assert measure_lines(facts, Units("us"))[0] == f"Mark {NAMED[lacking]} on the plan, and hand it back"

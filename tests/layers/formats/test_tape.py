"""A yard measured by tape comes back at its true size, place and turn, with its closing error told."""

import math

import pytest
from pyproj import Geod

from habitat.commands.check.account import check_study
from habitat.errors import HabitatError
from habitat.layers.formats.tape import COLUMNS, tape_template, two_tapes
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make

SETTINGS = """\
setting,unit,,,,,,,,,{unit},
setting,latitude,,,,,,,,,39.8984,
setting,longitude,,,,,,,,,-82.9005,
setting,bearing,,,,,,,,,{bearing},
"""
YARD = """\
yard,home,A,-15,-50,,,,,,,
yard,home,B,60,-50,,,,,,,
yard,home,C,60,70,,,,,,,
yard,home,D,-15,70,,,,,,,
"""
HOUSE = """\
building,house,start,0,0,,,,,,20,
building,house,H2,40,0,,,,,,,
building,house,H3,40,-25'6",,,,,,,
building,house,H4,0,-25.5,,,,,,,
"""
REST = """\
paving,drive,P1,42,-50,,,,,,,
paving,drive,P2,52,-50,,,,,,,
paving,drive,P3,52,0,,,,,,,
paving,drive,P4,42,0,,,,,,,
tree,Quercus alba,T1,,,start,50,H2,30,right,45,38
fence,back,F1,-15,70,,,,,,,
fence,back,F2,60,70,,,,,,,
"""
TURNED = """\
yard,y,A,0,0,,,,,,,
yard,y,B,60,0,,,,,,,
yard,y,C,0,60,,,,,,,
tree,a,T1,50,0,,,,,,,
tree,b,T2,0,50,,,,,,,
"""


def tape(tmp_path, rows, unit="feet", bearing="90"):
    text = ",".join(COLUMNS) + "\n" + SETTINGS.format(unit=unit, bearing=bearing) + rows
    (tmp_path / "tape.csv").write_text(text, encoding="utf-8")
    return make.study(tmp_path, {"yards": "tape.csv"})


def test_the_empty_template_asks_for_its_settings(tmp_path):
    (tmp_path / "tape.csv").write_text(tape_template(), encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "tape.csv"}))
    assert "does not give: latitude, longitude, bearing" in result["error"]["message"]


def test_the_example_in_the_template_can_be_read(tmp_path):
    text = tape_template()
    example = [
        line[2:]
        for line in text.splitlines()
        if line.startswith("# ") and line.count(",") == len(COLUMNS) - 1
    ]
    assert len(example) == 3
    rows = "\n".join(example) + "\nyard,front yard,C,70,30,,,,,,,\n"
    layers = read_layers(read_study(tape(tmp_path, rows)))
    assert layers.frame("trees")["height_m"].tolist() == pytest.approx([45 * 0.3048])
    assert len(layers.yards) == 1


def test_sizes_and_layers(tmp_path):
    layers = read_layers(read_study(tape(tmp_path, YARD + HOUSE + REST)))
    foot = 0.3048
    assert layers.yards["area_m2"].iloc[0] == pytest.approx(75 * 120 * foot**2, rel=5e-4)
    assert layers.frame("buildings").area.iloc[0] == pytest.approx(40 * 25.5 * foot**2, rel=5e-4)
    assert layers.frame("buildings")["height_m"].iloc[0] == pytest.approx(20 * foot)
    assert layers.frame("paving").area.iloc[0] == pytest.approx(500 * foot**2, rel=5e-4)
    assert layers.frame("fences").length.iloc[0] == pytest.approx(75 * foot, rel=5e-4)
    tree = layers.frame("trees").iloc[0]
    assert (tree["crown_m"], tree["yard_id"]) == (pytest.approx(38 * foot), "home")
    assert layers.vectors["yards"].source_crs == "measured by tape"


@pytest.mark.parametrize("bearing", [0, 90, 200.5])
def test_places_lie_where_the_bearing_says(tmp_path, bearing):
    """Geodesics (pyproj.Geod) from the start: along at the bearing, out a quarter turn to the right."""
    layers = read_layers(read_study(tape(tmp_path, TURNED, unit="metres", bearing=str(bearing))))
    found = layers.frame("trees").to_crs(4326).geometry
    geod = Geod(ellps="WGS84")
    for point, turn in zip(found, (0, 90), strict=True):
        lon, lat, _ = geod.fwd(-82.9005, 39.8984, bearing + turn, 50.0)
        assert geod.inv(lon, lat, point.x, point.y)[2] < 0.001


def test_closing_error_and_checks_are_told(tmp_path):
    result = check_study(tape(tmp_path, YARD + "yard,home,A,-14,-50,,,,,,,\ncheck,,,,,A,75.5,B,,,,\n"))
    assert "point A is off by 0.30 m" in make.notes(result)
    assert "check A to B is off by 0.15 m" in make.notes(result)
    assert result["layers"]["yards"]["used"] == 1
    assert "closing error is not known" in make.notes(check_study(tape(tmp_path, YARD)))


def test_two_trees_of_one_kind_are_two_trees(tmp_path):
    """The name of a tree is its kind, and yards have two oaks; a tree measured twice is one still."""
    oaks = "".join(f"tree,white oak,{at},,,,,,45,38\n" for at in ("T1,10,10", "T2,30,20", ",9,40"))
    again = "tree,white oak,T1,10,10,,,,,,45,38\n"
    trees = read_layers(read_study(tape(tmp_path, YARD + oaks + again))).frame("trees")
    assert trees["plant"].tolist() == ["white oak"] * 3
    assert len(set(trees.geometry.to_wkt())) == 3


def test_sizes_that_cannot_be_are_unknown_and_told(tmp_path):
    """Limits are those of the same layer in any other format: 150 m of height, 60 m of crown."""
    rows = (
        "tree,oak,T1,10,10,,,,,,2000,-3\nbuilding,house,start,0,0,,,,,,tall,\nbuilding,house,,20,0,,,,,,,\n"
    )
    folder = tape(tmp_path, YARD + rows + "building,house,,20,0,,,,,,,\nbuilding,house,,20,20,,,,,,,\n")
    layers, told = read_layers(read_study(folder)), make.notes(check_study(folder))
    assert layers.frame("trees")[["height_m", "crown_m"]].isna().all(axis=None)
    assert layers.frame("buildings")["height_m"].isna().all()
    for words in (
        "value '2000' is no length of 0 to 150 m",
        "crown '-3' is no length of 0 to 60 m",
        "value 'tall'",
    ):
        assert words in told


def test_what_is_given_twice_or_left_blank_is_told(tmp_path):
    folder = tape(tmp_path, YARD + "setting,latitude,,,,,,,,,39.9,\ntree,oak,T1,10,n/a,,,,,,,\n")
    told = make.notes(check_study(folder))
    assert "the setting latitude is given as 39.8984 and 39.9: the last counts" in told
    assert "out is blank, which is taken for 0" in told


def test_two_tapes_meet_where_circles_cross():
    assert two_tapes((0, 0), 3, (5, 0), 4, right=True) == pytest.approx((1.8, 2.4))
    assert two_tapes((0, 0), 3, (5, 0), 4, right=False) == pytest.approx((1.8, -2.4))
    x, y = two_tapes((1, 2), 10, (4, 6), 8, right=True)
    assert math.dist((1, 2), (x, y)) == pytest.approx(10)
    assert math.dist((4, 6), (x, y)) == pytest.approx(8)
    assert (4 - 1) * (y - 2) - (6 - 2) * (x - 1) > 0  # out grows to the right
    assert two_tapes((0, 0), 2, (5, 0), 2, right=True) is None
    assert two_tapes((0, 0), 1, (0, 0), 1, right=True) is None
    assert two_tapes((0, 0), 2.49, (5, 0), 2.5, right=True) == pytest.approx((2.495, 0.0), abs=0.02)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("yard,y,A,0,0,,,,,,,\nyard,y,B,9,0,,,,,,,\n", "2 corner(s)"),
        ("yard,y,A,zero,0,,,,,,,\n", "no length"),
        (YARD + "tree,t,T,,,A,10,Q,10,left,,\n", "no row above places"),
        (YARD + "tree,t,T,,,A,10,B,10,up,,\n", "Write left or right"),
        (YARD + "tree,t,T,,,A,10,B,10,left,,\n", "never meet"),
        (YARD + "shed,s,S,1,1,,,,,,,\n", "Write one of"),
        (HOUSE, "no yard has three corners"),
        (YARD + "check,,,,,A,,B,,,,\n", "a check needs"),
    ],
)
def test_what_cannot_be_worked_out_is_refused_with_its_row(tmp_path, rows, words):
    with pytest.raises(HabitatError, match=words.replace("(", r"\(").replace(")", r"\)")):
        read_layers(read_study(tape(tmp_path, rows)))
    assert check_study(tape(tmp_path, YARD, unit="cubits"))["exit"] == 2
    assert check_study(tape(tmp_path, YARD, bearing="east"))["exit"] == 2

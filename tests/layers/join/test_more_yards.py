"""Yards that are drawn beside a parcel file: where they stand, and what they add to which layer."""

import datetime as dt
import json
import math
import os
import re
import shlex

import pytest

from habitat.commands.check.account import check_study
from habitat.errors import LayerError
from habitat.layers.formats.tape import COLUMNS
from habitat.layers.join import people
from habitat.pipeline.reading import read_layers
from habitat.pipeline.survey import survey
from habitat.study.reading import read_study
from tests.commands.calls import call
from tests.layers import builders as make

LOT = ((0, 0), (10, 0), (10, 16), (0, 16))
HOUSE = ((2, 2), (8, 2), (8, 8), (2, 8))


def rows(what, name, corners, value=""):
    return [f"{what},{name},,{x},{y},,,,,,{value if not k else ''}," for k, (x, y) in enumerate(corners)]


def sketch(folder, stem, *things, **told):
    """A file as the sketch page saves it, in metres, x to the east and y to the south of its start."""
    lines = [",".join(COLUMNS)]
    lines += [f"setting,{name},,,,,,,,,{value}," for name, value in {"unit": "metres", **told}.items()]
    lines += [line for thing in things for line in rows(*thing)]
    (folder / "more").mkdir(exist_ok=True)
    (folder / "more" / f"{stem}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def at(x, y):
    lon, lat = make.degrees(x, y)
    return {"longitude": f"{lon:.8f}", "latitude": f"{lat:.8f}"}


def study(folder, **extra):
    make.yards(address=make.ADDRESSES, pets=[True, False, False]).to_file(folder / "yards.gpkg")
    return make.study(folder, {"yards": "yards.gpkg", "more_yards": "more", **extra})


def read(folder, **extra):
    return read_layers(read_study(study(folder, **extra)))


def aside(layers, name="more_yards"):
    return list(layers.vectors[name].set_aside["reason"])


def test_a_yard_with_its_place_joins_and_its_things_join_the_layers(tmp_path):
    things = [("yard", "corner lot", LOT), ("building", "house", HOUSE, 5), ("tree", "oak", [(9, 12)], 8)]
    sketch(tmp_path, "oak", *things, **at(110, 20))
    layers = read(tmp_path)
    assert list(layers.yards["yard_id"]) == [*make.YARDS, "corner lot"]
    new = layers.yards.iloc[3]
    assert new["area_m2"] == pytest.approx(160, rel=1e-3)
    assert (new["role"], bool(new["pets"])) == ("member", False)
    west, _, _, north = new.geometry.bounds
    assert (west - make.WEST, north - make.SOUTH) == pytest.approx((110, 20), abs=0.4)
    house, tree = layers.frame("buildings").iloc[0], layers.frame("trees").iloc[0]
    assert new.geometry.covers(house.geometry)
    assert (house["height_m"], tree["yard_id"], tree["height_m"]) == (5, "corner lot", 8)
    account = layers.vectors["more_yards"]
    assert (account.rows_in, account.used, len(account.set_aside)) == (1, 1, 0)


def test_buildings_of_the_town_and_of_a_sketch_stand_in_one_layer(tmp_path):
    town = make.yards({"a": make.box(5, 5, 15, 15)}).rename(columns={"yard_id": "name"})
    town.assign(height_m=7.0).to_file(tmp_path / "houses.gpkg")
    sketch(tmp_path, "oak", ("yard", "corner lot", LOT), ("building", "house", HOUSE, 5), **at(110, 20))
    layers = read(tmp_path, buildings="houses.gpkg")
    assert layers.frame("buildings")["height_m"].tolist() == [7, 5]
    layer = layers.vectors["buildings"]
    assert layer.rows_in == layer.used + layer.repaired + len(layer.set_aside) == 2


@pytest.mark.parametrize(
    "told", [{"parcel": "TB-01"}, {"address": "12 plum alley."}], ids=["parcel", "address"]
)
def test_a_sketch_of_a_parcel_is_laid_on_it(tmp_path, told):
    sketch(tmp_path, "walk", ("paving", "drive", HOUSE), **told)
    layers = read(tmp_path)
    assert list(layers.yards["yard_id"]) == list(make.YARDS)
    drive, parcel = layers.frame("paving").geometry.iloc[0], layers.yards.geometry.iloc[0]
    assert drive.area == pytest.approx(36, rel=1e-3)
    assert drive.centroid.distance(parcel.centroid) < 0.01


def test_a_lot_that_lies_in_a_parcel_is_that_parcel(tmp_path):
    sketch(tmp_path, "oak", ("yard", "yard 1", LOT), ("paving", "walk", HOUSE), **at(10, 30))
    layers = read(tmp_path)
    assert len(layers.yards) == 3
    assert "taken for that yard" in " ".join(n.what for n in layers.vectors["more_yards"].notes)
    assert layers.yards.geometry.iloc[0].covers(layers.frame("paving").geometry.iloc[0])


@pytest.mark.parametrize(
    ("side", "dx", "dy"), [("east", 1, 0), ("North", 0, 1), ("west", -1, 0), ("south", 0, -1)]
)
def test_a_yard_beside_a_parcel_touches_it(tmp_path, side, dx, dy):
    sketch(tmp_path, "oak", ("yard", "corner lot", LOT), beside="TB-02", side=side)
    layers = read(tmp_path)
    new, old = layers.yards.geometry.iloc[3], layers.yards.geometry.iloc[1]
    assert new.distance(old) < 0.05
    assert new.intersection(old).area < 0.5
    way = (new.centroid.x - old.centroid.x, new.centroid.y - old.centroid.y)
    assert (way[0] * dx + way[1] * dy) / math.hypot(*way) == pytest.approx(1, abs=1e-3)


def test_without_a_side_it_stands_where_it_lies_over_no_other_yard(tmp_path):
    sketch(tmp_path, "oak", ("yard", "corner lot", LOT), beside="TB-02")
    layers = read(tmp_path)
    assert layers.yards["overlap_m2"].tolist() == pytest.approx([0] * 4, abs=0.5)


@pytest.mark.parametrize(
    ("things", "told", "expected"),
    [
        ([("yard", "lot", LOT)], {}, "does not say where it stands"),
        ([("yard", "lot", LOT)], {"parcel": "TB-09"}, "no yard has the id 'TB-09'"),
        ([("yard", "lot", LOT)], {"beside": "TB-09"}, "stands beside a parcel"),
        ([("yard", "lot", LOT)], {"beside": "TB-02", "side": "left"}, "north, east, south or west"),
        ([("yard", "lot", LOT)], at(9000, 0), "km from the nearest yard"),
        ([("yard", "lot", LOT)], at(9000, 0), "as oak.csv, and 'habitat run oak.csv --out oak_plan'"),
        ([("yard", "lot", LOT)], {"parcel": "TB-01", **at(300, 0)}, "m beside it"),
        ([("paving", "walk", HOUSE)], at(10, 10), "names no parcel"),
    ],
)  # fmt: skip
def test_what_has_no_place_takes_no_part_and_is_told(tmp_path, things, told, expected):
    sketch(tmp_path, "oak", *things, **told)
    layers = read(tmp_path)
    assert len(layers.yards) == 3
    assert layers.frame("paving") is None
    (reason,) = aside(layers)
    assert expected in reason
    assert "more/oak.csv" in reason


def test_a_yard_without_a_place_is_planned_alone_by_the_command_that_is_told(tmp_path, monkeypatch):
    """The command as it stands in the sentence; the town's place is enough, the date is when it was saved."""
    sketch(tmp_path, "the oak", ("yard", "lot", LOT), ("building", "house", HOUSE, 5), bearing=90)
    (reason,) = aside(read(tmp_path))
    words = shlex.split(re.search(r"'habitat (run .*?)'", reason)[1])
    assert words == ["run", "the oak.csv", "--out", "the oak_plan"]
    alone = (tmp_path / "more" / "the oak.csv").rename(tmp_path / "the oak.csv")
    monkeypatch.chdir(tmp_path)
    assert "those of its town will do" in call("check", "the oak.csv", code=2)
    settings = "".join(f"setting,{name},,,,,,,,,{value},\n" for name, value in at(0, 0).items())
    alone.write_text(alone.read_text(encoding="utf-8") + settings, encoding="utf-8")
    noon = dt.datetime(2026, 4, 2, 12).timestamp()
    os.utime(alone, (noon, noon))
    call(*words, "--workers", "1", "--quiet")
    run = json.loads((tmp_path / "the oak_plan" / "run.json").read_text(encoding="utf-8"))
    assert (run["study"], run["date"]) == ("the oak", "2026-04-02")
    counts = run["headline"]["counts"]
    assert (counts["members"], counts["plants"] > 0) == (1, True)
    assert list((tmp_path / "the oak_plan" / "sheets").glob("*.pdf"))


def test_two_drawn_lots_of_one_name_are_two_yards(tmp_path):
    for stem, x in (("ash", 110), ("oak", 140)):
        sketch(tmp_path, stem, ("yard", "yard 1", LOT), **at(x, 20))
    ids = list(read(tmp_path).yards["yard_id"])
    assert ids[3:] == ["yard 1", "yard 1 (oak)"]


def test_faults_name_the_file_and_the_row(tmp_path):
    sketch(tmp_path, "oak", ("yard", "lot", LOT[:2]), **at(110, 20))
    sketch(tmp_path, "elm", ("hedge", "lot", LOT), **at(150, 20))
    (tmp_path / "more" / "list.csv").write_text("name,phone\nA,1\n", encoding="utf-8")
    result = check_study(study(tmp_path))
    said = result["error"]["message"]
    for part in ("more/oak.csv", "more/elm.csv", "row 4: what is 'hedge'", "more/list.csv", "no tape table"):
        assert part in said
    assert len(result["yards"]) == 3


def test_an_empty_folder_is_told(tmp_path):
    (tmp_path / "more").mkdir()
    with pytest.raises(LayerError, match="holds no table"):
        read(tmp_path)


def test_a_study_that_is_named_by_a_relative_path_finds_its_sketches(tmp_path, monkeypatch):
    sketch(tmp_path, "oak", ("yard", "corner lot", LOT), **at(110, 20))
    study(tmp_path)
    monkeypatch.chdir(tmp_path.parent)
    assert len(read_layers(read_study(tmp_path.name)).yards) == 4


def test_one_drawn_yard_makes_nothing_known_of_others(tmp_path):
    house, walk = ("building", "house", HOUSE, 5), ("paving", "walk", [(0, 0), (1, 0), (1, 3)])
    things = [("yard", "corner lot", LOT), house, walk]
    sketch(tmp_path, "oak", *things, **at(110, 20))
    one = read_study(study(tmp_path))
    layers = read_layers(one)
    assert layers.only_drawn() == {"buildings", "paving"}
    site = survey(one, layers)
    assert not site.placeable
    assert site.unpaved == set(make.YARDS)
    for yard_id in make.YARDS:
        sketch(tmp_path, yard_id, house, walk, parcel=yard_id)
    assert survey(one, read_layers(one)).placeable
    for yard_id in make.YARDS:
        (tmp_path / "more" / f"{yard_id}.csv").unlink()
    make.yards({"a": make.box(5, 5, 15, 15)}).to_file(tmp_path / "houses.gpkg")
    both = read_study(study(tmp_path, buildings="houses.gpkg"))
    layers = read_layers(both)
    assert layers.only_drawn() == {"paving"}
    assert survey(both, layers).placeable


def test_addresses_of_the_parcels_are_read_once_for_all_files(tmp_path, monkeypatch):
    """A hundred files beside 20,000 parcels took 13 s, nearly all for the same addresses again and again."""
    read_of = []
    real = people.AddressBook
    monkeypatch.setattr(people, "AddressBook", lambda texts: read_of.append(len(texts)) or real(texts))
    for k in range(6):
        sketch(
            tmp_path, f"s{k}", ("yard", f"lot {k}", LOT), beside=list(make.YARDS)[k % 3] if k else "no such"
        )
    layers = read(tmp_path)
    assert len(layers.yards) == 3 + 5
    assert read_of.count(3) == 1


def test_a_yard_may_stand_beside_one_that_was_drawn_before_it(tmp_path):
    sketch(tmp_path, "a", ("yard", "first", LOT), **at(110, 20))
    sketch(tmp_path, "b", ("yard", "second", LOT), beside="first", side="east")
    yards = read(tmp_path).yards.set_index("yard_id").geometry
    assert yards["second"].centroid.x - yards["first"].centroid.x == pytest.approx(10, abs=0.1)

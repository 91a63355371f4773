"""The sign-up sheet and soil tests join to yards by id, address or place, and never by a guess."""

import numpy as np
import pytest

from habitat.commands.check.account import check_study
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make


def test_every_promised_column_is_there_and_filled(joined):
    _, layers = joined(
        "yard_id,role,publish,budget,children,pets,sprayed,deer,max_height_m,septic\n"
        "TB-01,Member,yes,$150,2,,no,yes,6 ft,\nTB-02,candidate,,,,dog,x,,,true\n"
    )
    yards = layers().yards.set_index("yard_id")
    assert yards["role"].to_dict() == {"TB-01": "member", "TB-02": "candidate", "TB-03": "other"}
    assert yards["publish"].to_dict() == {"TB-01": True, "TB-02": False, "TB-03": False}
    assert yards.loc["TB-01", "budget"] == 150
    assert np.isnan(yards.loc["TB-02", "budget"])
    assert yards.loc["TB-01", "max_height_m"] == pytest.approx(1.8288)
    assert yards[["children", "pets", "sprayed", "deer", "septic"]].to_numpy().tolist() == [
        [True, False, False, True, False], [False, True, True, False, True], [False] * 5]  # fmt: skip
    assert yards["address"].tolist() == make.ADDRESSES
    assert yards[["publish", "children", "pets", "sprayed", "deer", "septic"]].dtypes.eq(bool).all()


def test_without_a_sheet_every_yard_is_a_member_with_an_empty_one_nobody(tmp_path, joined):
    make.yards().to_file(tmp_path / "bare.gpkg")
    yards = read_layers(read_study(make.study(tmp_path, {"yards": "bare.gpkg"}))).yards
    assert set(yards["role"]) == {"member"}
    assert not yards["publish"].any()
    assert yards["address"].isna().all()
    result, layers = joined("yard_id,address,role\n")
    assert set(layers().yards["role"]) == {"other"}
    assert "no rows" in make.notes(result, "participants")
    assert "nobody takes part" in make.notes(result, "participants")


def test_everyone_is_planned_when_asked_for_but_those_who_said_no(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    (tmp_path / "p.csv").write_text("yard_id,role\nTB-01,no\n", encoding="utf-8")
    path = make.study(tmp_path, {"yards": "y.gpkg", "participants": "p.csv"})
    study = read_study(path)
    assert set(read_layers(study).yards["role"]) == {"other"}
    everyone = read_layers(study.changed(planting={"everyone": True})).yards.set_index("yard_id")["role"]
    assert everyone.pop("TB-01") == "other"
    assert set(everyone) == {"member"}


def test_soil_tests_join_by_address_too(joined):
    result, layers = joined('address,ph\n"7 North Kiln Street",6.4\n"3 Mil Gren",7\n', "soil_tests")
    assert layers().frame("soil_tests")["yard_id"].tolist() == ["TB-02"]
    assert (result["tables"]["soil_tests"]["matched"], result["tables"]["soil_tests"]["unmatched"]) == (1, 1)


def test_a_range_of_money_is_its_lower_end(joined):
    result, layers = joined(
        "yard_id,role,budget\nTB-01,yes,$50-100\nTB-02,yes,about 80\nTB-03,yes,40 to 60 dollars\n"
    )
    assert layers().yards["budget"].tolist() == [50, 80, 40]
    assert make.notes(result, "participants").count("is read as") >= 3


def test_answers_that_are_lost_are_worth_a_look(joined, tmp_path):
    result, layers = joined("yard_id,are you in?,budget\nTB-01,no,a little\nTB-02,yes,$60\n")
    weighty = " ".join(n["what"] for n in result["layers"]["participants"]["notes"] if n["harm"] == 2)
    assert "no column role: everybody on the sheet counts as a member" in weighty
    assert "'a little' is no number: unknown, so the study's planting.budget counts" in weighty
    assert layers().yards["budget"].tolist()[1] == 60
    sheet = {"path": "t.csv", "columns": {"role": "are you in?", "wishes": "budget"}}
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "participants": sheet}))
    weighty = " ".join(n["what"] for n in result["layers"]["participants"]["notes"] if n["harm"] == 2)
    assert (
        "columns gives 'wishes', which habitat does not look for in this layer, so it does nothing" in weighty
    )
    assert "no column role" not in weighty


def test_the_yards_own_columns_count_where_the_sheet_says_nothing(tmp_path):
    make.yards(
        role=["member", "candidate", None], septic=["yes", "no", "no"], budget=[10.0, 20.0, 30.0]
    ).to_file(tmp_path / "y.gpkg")
    yards = read_layers(read_study(make.study(tmp_path, {"yards": "y.gpkg"}))).yards
    assert yards["role"].tolist() == ["member", "candidate", "member"]
    assert yards["septic"].tolist() == [True, False, False]
    assert yards["budget"].tolist() == [10, 20, 30]


def test_rows_that_are_all_the_same_count_once_and_are_named(joined):
    result, layers = joined("yard_id,role,budget\nTB-02,member,50\nTB-01,member,9\nTB-02,member,50\n")
    assert layers().yards["budget"].tolist()[:2] == [9, 50]
    assert "TB-02: 2 rows are of this yard (rows 1, 3), all the same: they count once" in make.notes(result)


def test_lengths_under_any_heading_with_their_unit(joined):
    """6 ft = 1.8288 m exactly (international foot of 1959); 5 ft 6 in = 66 x 0.0254 m."""
    _, layers = joined("yard_id,role,height limit (ft)\nTB-01,member,6\nTB-02,member,5'6\"\n")
    assert layers().yards["max_height_m"].tolist()[:2] == pytest.approx([1.8288, 1.6764])


def test_soil_tests_may_be_given_by_place_and_odd_values_stay_unknown(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    rows = [
        f"{make.degrees(x, y)[1]},{make.degrees(x, y)[0]},{v}"
        for (x, y), v in zip(((5, 5), (50, 5), (80, 5), (200, 5)), ("6.4", "65", "acid", "7"), strict=True)
    ]
    (tmp_path / "t.csv").write_text("lat,lon,pH\n" + "\n".join(rows), encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "soil_tests": "t.csv"}))
    found = {r["yard_id"]: r["attributes"]["ph"] for r in result["layers"]["soil_tests"]["rows"]}
    assert found == {"TB-01": 6.4, "TB-02": None, "TB-03": None}
    assert result["tables"]["soil_tests"]["unmatched"] == 1
    assert "ph '65' is outside 2 to 11" in make.notes(result)


def test_several_rows_of_one_yard_follow_the_stated_rule(joined):
    result, layers = joined(
        "yard_id,role,publish,budget,pets,max_height_m\nTB-01,candidate,yes,10,no,3\nTB-01,member,no,20,yes,2\n"
    )
    yard = layers().yards.set_index("yard_id").loc["TB-01"]
    assert (yard["role"], yard["publish"], yard["budget"], yard["pets"], yard["max_height_m"]) == (
        "member",
        False,
        20,
        True,
        2,
    )
    assert "TB-01: 2 rows are of this yard (rows 1, 2): the strongest role" in make.notes(result)


def test_headings_of_a_sheet_that_are_not_read_are_told(joined):
    result, _ = joined("yard_id,Favourite,Are there dogs?\nTB-01,blue,yes\n")
    told = make.notes(result, "participants")
    assert "not read: Favourite, Are there dogs?" in told
    assert "pets" in told
    result, _ = joined("YardID,Street Address,On_Site Pets\nTB-01,12 Plum Alley,\n")
    assert "not read: On_Site Pets." in make.notes(result, "participants")

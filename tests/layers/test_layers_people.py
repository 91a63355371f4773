"""The sign-up sheet and soil tests join to yards by id, address or place, and never by a guess."""

import numpy as np
import openpyxl
import pytest

from habitat.commands.check.account import check_study
from habitat.errors import NotFoundError
from habitat.layers.join.addresses import AddressBook, address_key
from habitat.layers.join.people import find_yard
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make

ADDRESSES = ["12 Plum Alley", "7 N Kiln St", "3 Mill Green"]


@pytest.fixture
def joined(tmp_path):
    make.yards(address=ADDRESSES).to_file(tmp_path / "y.gpkg")

    def join(text, name="participants"):
        (tmp_path / "t.csv").write_text(text, encoding="utf-8")
        path = make.study(tmp_path, {"yards": "y.gpkg", name: "t.csv"})
        return check_study(path), (lambda: read_layers(read_study(path)))

    return join


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
    assert yards["address"].tolist() == ADDRESSES
    assert yards[["publish", "children", "pets", "sprayed", "deer", "septic"]].dtypes.eq(bool).all()


def test_without_a_sheet_or_with_an_empty_one_every_yard_is_a_member(tmp_path, joined):
    make.yards().to_file(tmp_path / "bare.gpkg")
    yards = read_layers(read_study(make.study(tmp_path, {"yards": "bare.gpkg"}))).yards
    assert set(yards["role"]) == {"member"}
    assert not yards["publish"].any()
    assert yards["address"].isna().all()
    result, layers = joined("yard_id,address,role\n")
    assert set(layers().yards["role"]) == {"member"}
    assert "no rows" in make.notes(result, "participants")


def test_soil_tests_join_by_address_too(joined):
    result, layers = joined('address,ph\n"7 North Kiln Street",6.4\n"3 Mil Gren",7\n', "soil_tests")
    assert layers().frame("soil_tests")["yard_id"].tolist() == ["TB-02"]
    assert (result["tables"]["soil_tests"]["matched"], result["tables"]["soil_tests"]["unmatched"]) == (1, 1)


def test_answers_that_are_lost_are_worth_a_look(joined, tmp_path):
    result, layers = joined("yard_id,are you in?,budget\nTB-01,no,about 200\nTB-02,yes,$60\n")
    weighty = " ".join(n["what"] for n in result["layers"]["participants"]["notes"] if n["harm"] == 2)
    assert "no column role: everybody on the sheet counts as a member" in weighty
    assert "'about 200' is no number: unknown, so the study's planting.budget counts" in weighty
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


def test_addresses_join_in_any_writing_and_misspelt_ones_only_suggest(joined):
    result, layers = joined(
        'address,role\n"12 Plum Aly., Tallow Bend 43000",member\n7 NORTH KILN STREET Apt. 2,candidate\n3 '
        "Mil Gren,member\n99 Nowhere Rd,member\n"
    )
    assert (result["tables"]["participants"]["matched"], result["tables"]["participants"]["unmatched"]) == (
        2,
        2,
    )
    assert layers().yards["role"].tolist() == ["member", "candidate", "other"]
    assert "TB-03: 3 Mill Green (90% alike)" in make.notes(result)
    assert "no yard has the address '99 Nowhere Rd'" in make.notes(result)
    assert result["exit"] == 1


@pytest.mark.parametrize(
    ("given", "matched"),
    [
        ("12 Oak St Apt 2", "A"),
        ("12 OAK STREET, #2, Tallow Bend", "A"),
        ("12 Oak St unit b", "B"),
        ("12 Oak St", None),  # two yards of that house
        ("12 Oak St Apt 3", None),  # neither is that unit
        ("12 Oak Street North", None),  # another street, though "north" begins like "no"
        ("5 Flint", "D"),
        ("5 Floyd", None),  # both begin like "fl", floor
        ("Eichenstr. 4", "E"),
        ("5 RUE DE L'ETE", "F"),
        ("9 Elm Street Tallow Bend 43000", None),  # the town without a comma: nearest told, not taken
    ],
)
def test_an_address_is_one_house_and_one_unit(tmp_path, given, matched):
    shapes = {name: make.box(40 * i, 0, 40 * i + 30, 40) for i, name in enumerate("ABCDEF")}
    texts = ["12 Oak St Apt 2", "12 Oak St Unit B", "9 Elm St", "5 Flint", "Eichenstraße 4", "5 rue de l’Été"]
    make.yards(shapes, address=texts).to_file(tmp_path / "y.gpkg")
    (tmp_path / "p.csv").write_text(f'address,role\n"{given}",member\n9 Elm St,member\n', encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "participants": "p.csv"}))
    members = {y["yard_id"] for y in result["yards"] if y["role"] == "member"} - {"C"}
    assert members == ({matched} if matched else set())
    assert result["tables"]["participants"]["unmatched"] == (matched is None)
    if "Elm" in given:
        assert "nearest: C: 9 Elm St (95% alike)" in make.notes(result)


def test_an_id_and_an_address_that_name_two_yards_are_told(joined):
    result, layers = joined("yard_id,address,role\nTB-01,3 Mill Green,member\nTB-02,7 N Kiln,member\n")
    assert layers().yards["role"].tolist() == ["member", "member", "other"]
    assert "its address '3 Mill Green' is that of TB-03" in make.notes(result)
    assert "7 N Kiln" not in make.notes(result)


def test_rows_that_are_all_the_same_count_once_and_are_named(joined):
    result, layers = joined("yard_id,role,budget\nTB-02,member,50\nTB-01,member,9\nTB-02,member,50\n")
    assert layers().yards["budget"].tolist()[:2] == [9, 50]
    assert "TB-02: 2 rows are of this yard (rows 1, 3), all the same: they count once" in make.notes(result)


def test_lengths_under_any_heading_with_their_unit(joined):
    """6 ft = 1.8288 m exactly (international foot of 1959); 5 ft 6 in = 66 x 0.0254 m."""
    _, layers = joined("yard_id,role,height limit (ft)\nTB-01,member,6\nTB-02,member,5'6\"\n")
    assert layers().yards["max_height_m"].tolist()[:2] == pytest.approx([1.8288, 1.6764])


def test_an_address_of_several_yards_is_not_guessed(tmp_path):
    make.yards(address=["1 Elm St", "1 Elm Street", "2 Elm St"]).to_file(tmp_path / "y.gpkg")
    (tmp_path / "p.csv").write_text("address\n1 Elm St\n2 Elm St\n", encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "participants": "p.csv"}))
    assert "fits several yards: TB-01, TB-02" in make.notes(result)
    assert result["tables"]["participants"]["matched"] == 1


def test_ids_join_through_spreadsheet_damage_when_only_one_yard_fits(joined):
    result, _ = joined("yard_id,ph\nTB-01,6.4\ntb 2,7\nTB-3.,5.9\n", "soil_tests")
    assert result["tables"]["soil_tests"]["matched"] == 3
    assert "'tb 2' is read as 'TB-02'" in make.notes(result)
    result, _ = joined("yard_id,ph\nTB-01,6.4\nTB-10,7\n", "soil_tests")
    assert "nearest: TB-01 (80% alike)" in make.notes(result)


def test_ids_that_all_miss_are_refused(joined):
    result, _ = joined("yard_id,ph\n1001,6.4\n1002,7\n", "soil_tests")
    assert result["exit"] == 2
    assert "none of its 2 rows" in result["error"]["message"]


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


def test_unknown_roles_make_no_plan_and_are_told(joined):
    result, layers = joined("yard_id,role\nTB-01,treasurer\nTB-02,\n")
    assert layers().yards["role"].tolist() == ["other", "member", "other"]
    assert "'treasurer' is not member, candidate or other" in make.notes(result)


def test_a_sheet_that_asks_yes_no_or_maybe_says_roles(joined):
    result, layers = joined("yard_id,Taking part\nTB-01,Yes\nTB-02,maybe\nTB-03,no\n")
    assert layers().yards["role"].tolist() == ["member", "candidate", "other"]
    assert "maybe is read as candidate" in make.notes(result)


def test_roles_in_everyday_words_are_read_and_told(joined):
    result, layers = joined("yard_id,role\nTB-01,Yes please!\nTB-02,maybe later\nTB-03,no thanks\n")
    assert layers().yards["role"].tolist() == ["member", "candidate", "other"]
    assert "Yes please! is read as member (1 row(s))" in make.notes(result)
    _, layers = joined("yard_id,role\nTB-01,yes but not now\nTB-02,no but maybe\n")
    assert layers().yards["role"].tolist() == ["other"] * 3


def test_money_in_several_currencies_is_told(joined):
    sheet = "yard_id,budget\nTB-01,$150\nTB-02,100 EUR\nTB-03,60 dollars\n"
    result, layers = joined(sheet)
    assert layers().yards["budget"].tolist() == [150, 100, 60]
    assert "several currencies (dollars in 2 row(s), euros in 1 row(s))" in make.notes(result)
    result, _ = joined(sheet.replace(" EUR", " USD"))
    assert "currenc" not in make.notes(result)


def test_prices_and_budgets_in_two_currencies_are_told(joined, tmp_path):
    joined("yard_id,budget\nTB-01,$150\n")
    (tmp_path / "g.csv").write_text("plant,price\nswamp milkweed,3 EUR\n", encoding="utf-8")
    tables = {"yards": "y.gpkg", "participants": "t.csv", "growers": "g.csv"}
    told = make.notes(check_study(make.study(tmp_path, tables)))
    assert "prices are in euros and the budgets of the sign-up sheet in dollars" in told


def test_a_point_before_three_digits_of_money_is_told(joined):
    result, layers = joined('yard_id,budget\nTB-01,1.500\nTB-02,"1,500"\nTB-03,1.50\n')
    assert layers().yards["budget"].tolist() == [1.5, 1500, 1.5]
    assert make.notes(result).count("if thousands are meant") == 1


def test_headings_of_a_sheet_that_are_not_read_are_told(joined):
    result, _ = joined("yard_id,Favourite,Are there dogs?\nTB-01,blue,yes\n")
    told = make.notes(result, "participants")
    assert "not read: Favourite, Are there dogs?" in told
    assert "pets" in told
    result, _ = joined("YardID,Street Address,On_Site Pets\nTB-01,12 Plum Alley,\n")
    assert "not read: On_Site Pets." in make.notes(result, "participants")


def test_addresses_against_yards_without_any_name_the_remedy(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    (tmp_path / "t.csv").write_text("address\n12 Plum Alley\n7 Kiln St\n", encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "participants": "t.csv"}))
    assert "layers.yards.columns" in result["error"]["message"]


def test_a_yard_is_found_by_id_or_address_or_the_nearest_are_named(joined):
    yards = joined("yard_id\nTB-01\n")[1]().yards
    assert [find_yard(yards, said) for said in ("TB-01", "tb1", "12 plum aly")] == ["TB-01"] * 3
    with pytest.raises(NotFoundError, match="12 Plum Alley"):
        find_yard(yards, "12 Plumm Alley")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("12 Kiln Street", "12 KILN ST."),
        ("7 North Mill Ave, Unit 3", "7 N. Mill Avenue"),
        ("1 Saint Ann Ct", "1 St. Ann Court"),
        ("5 O'Dell Rd #4", "5 ODell Road"),
        ("9 Café Ln", "9 CAFE LANE"),
        ("No. 9 Mill Rd", "#9 Mill Road"),
        ("3 Fifth Ave", "3 5th Avenue"),
    ],
)
def test_two_writings_of_one_address_have_one_key(one, other):
    assert address_key(one) == address_key(other)


def test_nearest_addresses_of_many_come_quickly_and_in_order():
    book = AddressBook(
        {f"Y{i}": f"{i} {street} Street" for i in range(2000) for street in [("Plum", "Kiln", "Mill")[i % 3]]}
    )
    found = book.nearest("100 Kiln Stret")
    assert found[0][0] == "Y100"
    assert [s for *_, s in found] == sorted((s for *_, s in found), reverse=True)


def test_a_cover_sheet_and_title_lines_are_passed_over(tmp_path):
    make.yards(address=ADDRESSES).to_file(tmp_path / "y.gpkg")
    book = openpyxl.Workbook()
    book.active["A1"] = "Our club"
    sheet = book.create_sheet("Sign-ups")
    for row in (["Butterfly sign-up 2026"], [], ["Address", "Role"], ["12 Plum Alley", "member"]):
        sheet.append(row)
    book.save(tmp_path / "s.xlsx")
    path = make.study(tmp_path, {"yards": "y.gpkg", "participants": "s.xlsx"})
    assert read_layers(read_study(path)).yards["role"].tolist() == ["member", "other", "other"]
    assert "Our club" not in make.notes(check_study(path))

"""Addresses in any writing, one house and one unit."""

import pytest

from habitat.commands.check.account import check_study
from habitat.errors import NotFoundError
from habitat.layers.join.addresses import AddressBook, address_key
from habitat.layers.join.people import find_yard
from tests.layers import builders as make


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


@pytest.mark.parametrize(
    ("given", "yards"),
    [
        ("12 Kiln", ["A"]),
        ("12 kiln street, Tallow Bend", ["A"]),  # "lane" and "street" differ, so B is another
        ("12 Kiln Rd", []),
        ("14 Mill", ["C"]),
        ("14 N Mill", ["C"]),
        ("14 S Mill St", []),
        ("16 Oak", ["E", "F"]),  # two of that number and name: nobody's
        ("16 N Oak", ["E"]),
        ("18 Elm", ["G"]),
        ("18 Elm North", []),  # more than the parcel says
        ("18 Elms", []),
        ("19 Elm", []),
        ("Elm Street", []),
        ("20 Park", ["H"]),
        ("20 Ave", []),
        ("22 Ash Apt 3", ["I"]),
        ("24 Ash Apt 3", []),  # the parcel is of another unit
        ("", []),
    ],
)
def test_number_and_street_name_fit_and_a_likeness_never_does(given, yards):
    texts = {
        "A": "12 Kiln St", "B": "12 Kiln Lane Extension", "C": "14 North Mill St", "E": "16 N Oak St",
        "F": "16 S Oak St", "G": "18 Elm St", "H": "20 Park Avenue", "I": "22 Ash St", "J": "24 Ash St Apt 2",
    }  # fmt: skip
    assert AddressBook(texts).fitting(given) == yards


def test_an_id_and_an_address_that_name_two_yards_are_told(joined):
    result, layers = joined("yard_id,address,role\nTB-01,3 Mill Green,member\nTB-02,7 N Kiln,member\n")
    assert layers().yards["role"].tolist() == ["member", "member", "other"]
    assert "its address '3 Mill Green' is that of TB-03" in make.notes(result)
    assert "7 N Kiln" not in make.notes(result)


def test_an_address_of_several_yards_is_not_guessed(tmp_path):
    make.yards(address=["1 Elm St", "1 Elm Street", "2 Elm St"]).to_file(tmp_path / "y.gpkg")
    (tmp_path / "p.csv").write_text("address\n1 Elm St\n2 Elm St\n", encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "participants": "p.csv"}))
    assert "fits several yards: TB-01, TB-02" in make.notes(result)
    assert result["tables"]["participants"]["matched"] == 1


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

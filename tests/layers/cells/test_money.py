"""Money as people write it."""

from habitat.commands.check.account import check_study
from tests.layers import builders as make


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

"""What lived, beside what is published; nothing before the first season."""

from dataclasses import replace

import pytest

from habitat.planting.settled import Carried, Round
from habitat.planting.years.survival import Lot
from habitat.report.lists.shopping import shopping_table
from habitat.report.lists.survival import survival_table, write_survival
from tests.report.small_plan import small_plan


@pytest.fixture
def plan(tmp_path):
    lots = (
        Lot("Asclepias incarnata", "plug", "wet", 30, 15),
        Lot("Asclepias incarnata", "plug", "moist", 10, 10),
        Lot("Zizia aurea", "plug", "moist", 5, 1), Lot("Monarda fistulosa", "pot", "moist", 4, 4),
    )  # fmt: skip
    return replace(small_plan(tmp_path), carried=Carried(("0007",), (Round(),), survival=lots))


def test_counts_shares_and_what_is_published(plan, tmp_path):
    table = survival_table(plan).set_index(["plant", "ground"])
    row = table.loc[("Asclepias incarnata", "wet")]
    assert row[["planted", "alive", "share", "published_low", "published_high"]].tolist() == [
        30,
        15,
        0.5,
        0.8,
        0.95,
    ]
    assert row["low"] < 0.5 < row["high"] < row["published_low"]
    assert table.loc[("Monarda fistulosa", "moist"), "published_source"].startswith("none for this form")
    assert table["used"].str.startswith("yes").tolist() == [False, True, False, False]
    assert write_survival(plan, tmp_path / "survival.csv").stat().st_size > 200


def test_spares_go_by_what_lived_from_twenty_cases_on(plan):
    """25 of 40 milkweeds lived: 40 / 25 - 1 = 0.6 spares each; of golden Alexanders 5 were counted."""
    table = shopping_table(plan)
    group = table[table["list"] == "whole group"].set_index("plant")
    milkweed, zizia = group.loc["Asclepias incarnata"], group.loc["Zizia aurea"]
    assert milkweed["spares"] == -(-milkweed["count"] * 6 // 10)
    assert "spares of 60%" in milkweed["note"]
    assert zizia["spares"] == -(-zizia["count"] // 10)
    assert "spares" not in zizia["note"]


def test_before_the_first_season_there_is_nothing(tmp_path):
    assert survival_table(small_plan(tmp_path)).empty

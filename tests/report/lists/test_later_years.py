"""What living plants ask for from their second to their fifth year."""

import datetime as dt
from types import SimpleNamespace

import pytest

from habitat.report.lists.later_years import later_years
from tests.report.lists.test_season import with_living
from tests.report.small_plan import small_plan


@pytest.fixture
def plan(tmp_path):
    return with_living(small_plan(tmp_path))[0]


def found(plan, yards=frozenset({"0007"})):
    return {e.key: e for e in later_years(plan, yards)}


def test_from_the_second_to_the_fifth_year(plan):
    """Planted in 2025: the second year is 2026, the fifth 2029; clumps are divided from the fourth, 2028."""
    entries = found(plan)
    years = sorted({int(key.split("-")[1]) for key in entries})
    assert years == [2026, 2027, 2028, 2029]
    assert sorted(k for k in entries if k.startswith("divide")) == ["divide-2028", "divide-2029"]
    assert {e.start.month for k, e in entries.items() if k.startswith("survey")} == {4, 6}
    assert all(e.start <= e.end and e.end >= dt.date(2026, 3, 1) for e in entries.values())


def test_only_yards_that_take_part_are_told_of(plan):
    assert found(plan, frozenset({"0013"})) == {}


def test_what_spreads_is_thinned_and_not_divided(plan):
    plants = plan.knowledge.plants.copy()
    name = plan.existing_plants["plant"].iloc[-1]
    plants.loc[name, "aggressive_spread"] = True
    spreading = SimpleNamespace(
        study=plan.study, existing_plants=plan.existing_plants, knowledge=SimpleNamespace(plants=plants)
    )
    kinds = {key.split("-")[0] for key in found(spreading)}
    assert kinds == {"survey", "thin"}

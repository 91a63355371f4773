"""Figures of the whole add up, whatever became of each plan."""

from types import SimpleNamespace

import pandas as pd

from habitat.pipeline.assemble import _by_status, _closed_by_year

PLANTINGS = pd.DataFrame(
    {"yard_id": ["a", "a", "b", "d"], "count": [3, 4, 5, 6], "cost": [1.5, 2.0, 10.0, 0.25]}
)
YARDS = pd.DataFrame(
    {"yard_id": ["a", "b", "c", "d", "e"], "status": ["accepted", "draft", "draft", "planted", "declined"]}
)


def test_money_and_counts_add_up_over_status():
    results = pd.DataFrame({"yard_id": ["a", "b", "c", "d"]})
    planting = SimpleNamespace(plantings=PLANTINGS, yard_results=results)
    found = _by_status(YARDS, planting)
    assert found == {
        "accepted": {"yards": 1, "plants": 7, "cost": 3.5},
        "draft": {"yards": 2, "plants": 5, "cost": 10.0},
        "planted": {"yards": 1, "plants": 6, "cost": 0.25},
    }
    assert sum(part["plants"] for part in found.values()) == PLANTINGS["count"].sum()
    assert sum(part["cost"] for part in found.values()) == PLANTINGS["cost"].sum()


def test_life_cycles_are_counted_from_the_year_in_which_they_close():
    rows = pd.DataFrame(
        {"role": ["member", "member", "candidate", "anchor"], "closes_in_year": [0, 2, None, 0]}
    ).astype({"closes_in_year": "Int64"})
    assert _closed_by_year(rows, 3) == {"today": 1, "year_1": 1, "year_2": 2, "year_3": 2}

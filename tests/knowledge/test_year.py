"""The year of a butterfly, worked out from flight, broods and winter stage."""

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from habitat.knowledge import load_knowledge
from habitat.knowledge.months import month_range, months_text
from habitat.knowledge.year import (
    STAGES,
    bloom_months,
    broods,
    feeding_months,
    flight_months,
    leaf_months,
    nectar_mask,
    nectar_time,
    stages,
    winter_place,
)
from habitat.settings.knowledge import KnowledgeSettings


@pytest.fixture(scope="module")
def knowledge():
    return load_knowledge(KnowledgeSettings())


def butterfly(first, last, count, stage, place="leaf_litter"):
    return pd.Series(
        {
            "flight_start_month": first,
            "flight_end_month": last,
            "broods_per_year": count,
            "overwinter_stage": stage,
            "where_overwinters": place,
        }
    )


anybody = st.builds(
    butterfly,
    st.integers(1, 12),
    st.integers(1, 12),
    st.integers(1, 4),
    st.sampled_from(["egg", "larva", "pupa", "adult", "migrates"]),
)


@given(anybody)
def test_adults_fly_exactly_in_their_months_unless_they_winter(row):
    year = stages(row)
    flying = set(year.index[year["adult"]])
    assert set(flight_months(row)) <= flying
    if row["overwinter_stage"] != "adult":
        assert set(flight_months(row)) == flying


@given(anybody)
def test_every_brood_passes_through_every_stage(row):
    found = broods(row)
    assert [b.number for b in found] == list(range(1, row["broods_per_year"] + 1))
    for brood in found:
        assert brood.egg
        assert brood.larva
        assert brood.pupa
        assert brood.adult
        assert brood.feeding <= brood.larva
        assert all(0 <= s < 24 for s in brood.egg | brood.larva | brood.pupa | brood.adult)


@given(anybody)
def test_only_the_last_brood_winters_and_as_the_table_says(row):
    *early, last = broods(row)
    assert all(b.winters_as == "" for b in early)
    expected = "" if row["overwinter_stage"] == "migrates" else row["overwinter_stage"]
    assert last.winters_as == expected


@given(anybody, st.integers(0, 11))
def test_a_shift_of_the_flight_shifts_the_year(row, months):
    moved = row.copy()
    for column in ("flight_start_month", "flight_end_month"):
        moved[column] = (row[column] - 1 + months) % 12 + 1
    for one, other in zip(broods(row), broods(moved), strict=True):
        assert {(s + 2 * months) % 24 for s in one.egg} == other.egg
        assert {(s + 2 * months) % 24 for s in one.pupa} == other.pupa


def test_two_broods_share_the_months_of_flight():
    """May to August are four months: the first brood lays in May and June, the second in July and August."""
    early, late = broods(butterfly(5, 8, 2, "larva"))
    assert {s // 2 + 1 for s in early.egg} == {5, 6}
    assert {s // 2 + 1 for s in late.egg} == {7, 8}


@pytest.mark.parametrize("stage", ["egg", "larva", "pupa", "adult"])
def test_the_winter_stage_is_there_all_winter(stage, knowledge):
    rows = knowledge.butterflies[knowledge.butterflies["overwinter_stage"] == stage]
    assert len(rows)
    for _, row in rows.iterrows():
        assert stages(row).loc[[12, 1, 2], stage].all(), row["common_name"]


def test_migrants_leave_nothing_for_the_winter(knowledge):
    rows = knowledge.butterflies[knowledge.butterflies["overwinter_stage"] == "migrates"]
    for _, row in rows.iterrows():
        assert not stages(row).loc[[1, 2, 3]].to_numpy().any(), row["common_name"]
        assert winter_place(row) == "away_from_host"


def test_no_caterpillar_eats_in_deep_winter(knowledge):
    for _, row in knowledge.butterflies.iterrows():
        for brood in broods(row):
            assert not {12, 1, 2} & set(feeding_months(brood)), row["common_name"]


def test_worked_by_hand_the_hairstreak_that_winters_as_egg(knowledge):
    year = stages(knowledge.butterflies.loc["Satyrium calanus"])  # flies June-July
    assert months_text(year.index[year["egg"]]) == "6-4"
    assert months_text(year.index[year["larva"]]) == "4-6"  # late April to early June
    assert months_text(year.index[year["pupa"]]) == "6"


def test_a_late_laying_brood_lays_late(knowledge):
    year = stages(knowledge.butterflies.loc["Argynnis cybele"])  # flies from June, lays from August
    assert months_text(year.index[year["egg"]]) == "8-9"


def test_stages_are_named_and_months_whole(knowledge):
    year = stages(knowledge.butterflies.iloc[0])
    assert list(year.columns) == list(STAGES)
    assert list(year.index) == list(range(1, 13))


@given(st.integers(1, 12), st.integers(1, 12))
def test_month_ranges_wrap(first, last):
    months = month_range(first, last)
    assert months[0] == first
    assert months[-1] == last
    assert len(months) == len(set(months)) == (last - first) % 12 + 1


@given(st.sets(st.integers(1, 12)))
def test_month_text_reads_back(months):
    back = set()
    for part in months_text(months).split(", "):
        if part:
            first, _, last = part.partition("-")
            back |= set(month_range(int(first), int(last or first)))
    assert back == months


def test_spring_flowers_are_gone_by_summer(knowledge):
    toothwort = knowledge.plants.loc["Cardamine diphylla"]
    assert leaf_months(toothwort) == (3, 4, 5)
    assert leaf_months(toothwort.drop("leaf_windows")) == (3, 4, 5)
    assert bloom_months(toothwort) == (4, 5)
    nothing = toothwort.drop(["leaf_windows", "leaf_start_month", "leaf_end_month"])
    assert leaf_months(nothing) == (4, 5, 6, 7, 8, 9, 10)


@pytest.mark.parametrize(
    ("kind", "plant", "month", "drinks"),
    [
        ("Cucullia convexipennis", "Solidago caesia", 9, True),  # open day and night, short
        ("Cucullia convexipennis", "Liatris spicata", 8, False),  # nobody wrote of it at night
        ("Cucullia convexipennis", "Monarda fistulosa", 8, False),  # too long for a short tongue
        ("Lintneria eremitus", "Monarda fistulosa", 8, True),  # a sphinx
        ("Lintneria eremitus", "Solidago caesia", 9, True),
        ("Danaus plexippus", "Liatris spicata", 8, True),  # by day all flowers with nectar
    ],
)
def test_at_night_only_flowers_recorded_at_night_and_within_reach_of_the_tongue(
    knowledge, kind, plant, month, drinks
):
    fly, flower = knowledge.butterflies.loc[kind], knowledge.plants.loc[plant]
    assert bool(nectar_mask(flower) >> month + nectar_time(fly) & 1) == drinks


def test_no_nectar_is_offered_out_of_bloom_or_without_any(knowledge):
    for _, plant in knowledge.plants.iterrows():
        months = {(m - 1) % 12 + 1 for m in range(1, 37) if nectar_mask(plant) >> m & 1}
        assert months == (set(bloom_months(plant)) if plant["nectar_value"] > 0 else set())

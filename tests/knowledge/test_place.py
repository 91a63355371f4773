"""Which region serves a place, in which state it lies, what is native there, and what is refused."""

from dataclasses import replace

import geopandas as gpd
import pandas as pd
import pytest
from shapely import box

from habitat.errors import StudyError
from habitat.knowledge import load_knowledge
from habitat.knowledge.place import (
    border_note,
    knowledge_of_place,
    native_here,
    notice_days,
    outside_region,
    state_doubt,
    state_names,
    states_at,
    states_of,
)
from habitat.settings.knowledge import KnowledgeSettings

PLACES = {
    "limestone upland": (-98.3, 30.2, "south-central", "TX"),
    "black clay": (-96.8, 32.6, "south-central", "TX"),
    "sandy loam": (-98.0, 33.0, "south-central", "TX"),
    "river valley": (-81.5, 39.4, "ohio-valley-mid-atlantic", "OH"),
}


def yards_at(longitude, latitude):
    return gpd.GeoDataFrame(geometry=[box(longitude, latitude, longitude + 0.01, latitude + 0.01)], crs=4326)


@pytest.mark.parametrize("place", PLACES)
def test_the_region_is_that_of_the_place(place):
    longitude, latitude, region, state = PLACES[place]
    yards = yards_at(longitude, latitude).to_crs(5070)
    found = knowledge_of_place(KnowledgeSettings(), yards)
    assert (found.region.id, found.states) == (region, (state,))
    assert outside_region(found, yards) == ()


def test_a_desert_is_refused_and_says_how_to_go_on():
    desert = yards_at(-112.0, 33.5)
    with pytest.raises(StudyError, match="outside every region") as error:
        knowledge_of_place(KnowledgeSettings(), desert)
    assert "elsewhere = true" in str(error.value)
    assert "the Ohio Valley" in str(error.value)
    found = knowledge_of_place(KnowledgeSettings(elsewhere=True), desert)
    assert (found.region.id, found.states) == ("south-central", ("AZ",))  # the nearer one
    assert "lie outside" in outside_region(found, desert)[0]
    assert knowledge_of_place(KnowledgeSettings(), desert, refuse=False).region.id == "south-central"


def test_yards_without_a_shape_lie_in_no_state():
    assert states_of(gpd.GeoDataFrame(geometry=[None], crs=5070)) == ()
    assert states_of(gpd.GeoDataFrame(geometry=[box(0, 0, 9, 9)])) == ()
    assert knowledge_of_place(KnowledgeSettings(), gpd.GeoDataFrame(geometry=[None], crs=5070)).states == ()


def test_a_stated_region_that_the_yards_do_not_lie_in_is_refused():
    with pytest.raises(StudyError, match=r"outside the Ohio Valley.*Leave knowledge.region out"):
        knowledge_of_place(KnowledgeSettings(region="ohio-valley-mid-atlantic"), yards_at(-98.3, 30.2))


def test_states_can_be_stated_and_borders_are_told():
    inland = yards_at(-82.98, 39.98)
    assert knowledge_of_place(KnowledgeSettings(), inland, states=["KY", "OH"]).states == ("KY", "OH")
    assert border_note(knowledge_of_place(KnowledgeSettings(), inland), inland, ()) == ()
    at_the_river = yards_at(-84.5, 39.09)  # Ohio and Kentucky face each other across it
    (told,) = border_note(knowledge_of_place(KnowledgeSettings(), at_the_river), at_the_river, ())
    assert "Kentucky" in told
    assert "Ohio" in told
    assert border_note(knowledge_of_place(KnowledgeSettings(), at_the_river), at_the_river, ["OH"]) == ()
    assert states_at((14.4, 50.1)) == ()
    assert state_names(["XX"]) == "XX"


def test_yards_on_both_sides_of_a_border_ask_for_plants_native_in_both():
    """At Cincinnati the Ohio River parts Ohio (39.2 north) and Kentucky (38.9 north)."""
    town = pd.concat([yards_at(-84.53, 39.2), yards_at(-84.51, 39.2), yards_at(-84.53, 38.9)])
    found = knowledge_of_place(KnowledgeSettings(), town)
    assert found.states == ("OH", "KY")
    (told,) = border_note(found, town, ())
    assert "only plants recorded native in each" in told
    for plant, row in found.native_states.iterrows():
        if plant in found.plants.index:
            assert native_here(found, plant) == ({"OH", "KY"} <= set(row["native_states"].split()))


def test_one_yard_that_is_put_far_away_moves_neither_region_nor_state():
    town = pd.concat([yards_at(-82.98 + k / 50, 39.98) for k in range(4)] + [yards_at(-112.0, 33.5)])
    found = knowledge_of_place(KnowledgeSettings(), town)
    assert (found.region.id, found.states) == ("ohio-valley-mid-atlantic", ("OH",))
    (told,) = outside_region(found, town)
    assert told.startswith("1 of 5 yards lie outside")


def test_where_no_state_is_known_it_is_told_that_nobody_judged_what_is_native():
    lake = yards_at(-77.9, 43.6)  # Lake Ontario
    found = knowledge_of_place(KnowledgeSettings(elsewhere=True), lake)
    assert found.states == ()
    (told,) = border_note(found, lake, ())
    assert "nobody judged which plants are native" in told
    assert border_note(found, lake, ["OH"]) == ()


def test_native_goes_by_the_record_of_the_state_and_own_words_go_first(tmp_path):
    ohio = replace(load_knowledge(KnowledgeSettings()), states=("OH",), memo={})
    recorded = {p: set(ohio.native_states.at[p, "native_states"].split()) for p in ohio.native_states.index}
    foreign = [p for p in recorded if "OH" not in recorded[p]]
    assert foreign
    assert all(native_here(ohio, p) is False for p in foreign)
    assert all(native_here(ohio, p) for p in recorded if "OH" in recorded[p])
    assert native_here(replace(ohio, states=()), foreign[0]) is None
    both = replace(ohio, states=("OH", "TX"))
    assert native_here(both, "Asclepias tuberosa") == (recorded["Asclepias tuberosa"] >= {"OH", "TX"})
    (tmp_path / "own.csv").write_text(
        f"scientific_name,recorded_native_states\n{foreign[0]},OH\n", encoding="utf-8"
    )
    own = replace(load_knowledge(KnowledgeSettings(plants="own.csv"), tmp_path), states=("OH",), memo={})
    assert native_here(own, foreign[0])


def test_a_doubt_is_told_only_in_the_states_where_it_holds():
    knowledge = load_knowledge(KnowledgeSettings())
    rows = knowledge.native_states[knowledge.native_states["doubtful_states"] != ""]
    assert len(rows)
    for plant, row in rows.iterrows():
        doubtful = row["doubtful_states"].replace(";", " ").split()
        assert state_doubt(replace(knowledge, states=(doubtful[0],)), plant) == row["state_level_doubt"]
        assert state_doubt(replace(knowledge, states=("XX",)), plant) == ""


def test_the_notice_is_the_longest_of_the_states():
    """Of each state by region.toml; a state that it does not name falls back on the rule of practice."""
    knowledge = load_knowledge()
    region = replace(knowledge.region, locating_business_days={"OH": 2, "PA": 5})
    rule = int(knowledge.practice_value("locate_notice"))
    of = {
        states: notice_days(replace(knowledge, region=region, states=states))
        for states in [("OH",), ("OH", "PA"), ("NY",), ("OH", "NY"), ()]
    }
    assert of == {("OH",): 2, ("OH", "PA"): 5, ("NY",): rule, ("OH", "NY"): max(2, rule), (): rule}

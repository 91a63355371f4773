"""Rules of plant communities."""

from __future__ import annotations

import pandas as pd
import pytest

from habitat.errors import ParameterError
from habitat.planting.communities.habits import GROUND, STRUCTURE, read_habits
from habitat.planting.communities.rules import SEASONS, STYLES, BedRules, rules_of
from habitat.settings.planting import PlantingSettings


def test_styles_differ_in_grasses_and_height():
    assert STYLES["tidy"].graminoid_share < STYLES["meadow"].graminoid_share
    assert STYLES["tidy"].height_to_width < STYLES["meadow"].height_to_width


def test_layers_follow_height_and_form():
    table = pd.DataFrame(
        {
            "form": ["forb", "graminoid", "graminoid", "forb", "tree"],
            "height_m": [0.3, 0.6, 1.5, 1.3, 8.0],
            "spread_m": [0.3, 0.4, 0.6, 0.6, 6.0],
            "spacing_m": [0.1, 0.4, 0.6, 0.6, 6.0],
        }
    )
    habits = read_habits(table, BedRules())
    assert habits.layer.tolist() == [GROUND, GROUND, STRUCTURE, STRUCTURE, STRUCTURE]
    assert habits.spacing_m[0] == 0.3  # plugs 12 inches apart: common practice


def test_a_pot_is_set_fuller_than_a_bed():
    """Plants lean over the rim of a pot: common practice."""
    assert BedRules().cover_in(0.5) > BedRules().cover_in(2.0)


def test_seasons_of_bloom_are_the_meteorological_ones():
    """March to May, June to August, September to November (World Meteorological Organization)."""
    assert [months for _, months in SEASONS] == [(3, 4, 5), (6, 7, 8), (9, 10, 11)]


def test_a_study_sets_numbers_over_those_of_its_look():
    given = PlantingSettings(look="meadow", bed_rules={"ground_share": 0.5, "season_kinds": 4})
    rules = rules_of(given)
    assert (rules.ground_share, rules.season_kinds) == (0.5, 4)
    assert isinstance(rules.season_kinds, int)
    assert rules.graminoid_share == STYLES["meadow"].graminoid_share


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"seson_kinds": 4}, "season_kinds"),
        ({"season_kinds": 2.5}, "whole number"),
        ({"ground_share": 0.9, "structure_share": 0.2}, "less than 1 together"),
        ({"kind_share_max": 1.5}, "a share above 0 and up to 1"),
        ({"group_sizes": 3}, "one of structure_share"),
    ],
)
def test_numbers_that_make_no_sense_are_refused(given, words):
    with pytest.raises(ParameterError, match=words):
        rules_of(PlantingSettings(bed_rules=given))

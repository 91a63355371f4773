"""Rules of plant communities."""

from __future__ import annotations

import pandas as pd

from habitat.planting.communities.habits import GROUND, STRUCTURE, read_habits
from habitat.planting.communities.rules import STYLES, BedRules


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

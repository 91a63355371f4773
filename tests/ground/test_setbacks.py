"""The table of setbacks and limits: sources, practice values, own distances."""

import pandas as pd
import pytest
from shapely.geometry import box

from habitat.errors import ParameterError
from habitat.ground.setbacks import DEFAULTS, LIMITS, limits, setbacks
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards


def square(x0, y0, x1, y1):
    return box(WEST + x0, SOUTH + y0, WEST + x1, SOUTH + y1)


def ground_of(sections=None, yards=None, rasters=None, **vectors):
    made = Small(square_yards(2, 20.0) if yards is None else yards, vectors=vectors, rasters=rasters or {})
    made.sections = sections or {}
    return made.ground(), made


HOUSE = [square(5, 5, 15, 15)]


def test_every_default_names_its_source():
    for one in (*DEFAULTS, *LIMITS):
        assert any(word in one.source for word in ("common practice", "practice table", "judgement")), one
    assert all(list(s.distances_m) == sorted(s.distances_m) for s in DEFAULTS)


def test_practice_values_are_the_practice_table_s():
    from importlib.resources import files

    practice = pd.read_csv(str(files("habitat.knowledge") / "shared" / "practice.csv")).set_index("id")[
        "value"
    ]
    value = {
        k: float(practice[k]) for k in ("sight_height", "sight_leg", "sight_leg_driveway", "locate_handdig")
    }
    assert limits({})["sight_height"] == value["sight_height"]
    assert limits({})["sight_leg"] == value["sight_leg"]
    assert limits({})["drive_leg"] == value["sight_leg_driveway"]
    assert setbacks({})["buried"].distance_m("herb") == value["locate_handdig"]
    assert setbacks({})["wires"].distance_m("tree") == float(practice["tree_wire_offset_small"])
    assert [setbacks({})["wires"].distance_m(form) for form in ("herb", "shrub")] == [0.0, 0.0]  # no tree
    assert limits({})["wire_reach"] == float(practice["tree_wire_offset_large"])
    assert setbacks({})["building"].distance_m("tree") == float(practice["tree_foundation_offset"])


def test_the_more_particular_key_wins():
    table = setbacks({"all.all": 0.0, "all.tree": 2.0, "fence.all": 1.0, "fence.herb": 0.5})
    assert table["fence"].distances_m == (0.5, 1.0, 1.0)
    assert table["building"].distances_m == (0.0, 0.0, 2.0)


@pytest.mark.parametrize("key", ["hedge.herb", "building.moss", "building", "sight_leg.herb"])
def test_keys_that_name_nothing_are_refused(key):
    with pytest.raises(ParameterError, match=r"site\.setbacks"):
        ground_of({"site": {"setbacks": {key: 1.0}}}, buildings=frame_of(HOUSE))

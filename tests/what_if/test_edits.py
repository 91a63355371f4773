"""Single edits of a yard's tables."""

import pytest
from shapely import affinity

from habitat.errors import HabitatError
from habitat.planting.types import Drawn
from habitat.what_if.edits import edited

YARD = "A1"


@pytest.fixture
def mine(base):
    tables = (base.raw.beds, base.raw.plantings, base.raw.points)
    return Drawn(*(t[t["yard_id"] == YARD].reset_index(drop=True) for t in tables))


@pytest.fixture
def do(base, mine):
    return lambda **edit: edited(mine, edit, base.facts.plant)


def test_a_bed_is_moved(do, mine):
    was, bed = mine.beds.geometry[0], mine.beds["bed_id"][0]
    got, told = do(do="move", bed=bed, east_m=1.5, north_m=-2)
    assert got.beds.geometry[0].equals_exact(affinity.translate(was, 1.5, -2), 1e-9)
    assert got.beds.geometry[1:].tolist() == mine.beds.geometry[1:].tolist()
    assert told == f"bed {mine.beds['bed_number'][0]} moved"
    assert got.plantings is mine.plantings


def test_a_bed_is_reshaped_and_an_outline_that_crosses_itself_is_mended(do, mine):
    bed = mine.beds["bed_id"][0]
    got, _ = do(do="reshape", bed=bed, ring=[[0, 0], [2, 0], [2, 3], [0, 3]])
    assert got.beds.geometry[0].area == pytest.approx(6.0)
    got, _ = do(do="reshape", bed=bed, ring=[[0, 0], [2, 2], [2, 0], [0, 2]])
    assert got.beds.geometry[0].is_valid
    assert got.beds.geometry[0].area == pytest.approx(2.0)


def test_a_bed_is_struck_with_all_that_grows_in_it(do, mine):
    bed = mine.beds["bed_id"][0]
    got, _ = do(do="strike-bed", bed=bed)
    for name in ("beds", "plantings", "points"):
        was, now = getattr(mine, name), getattr(got, name)
        assert set(was["bed_id"]) - set(now["bed_id"]) == {bed}


def test_a_plant_is_swapped_by_any_name(do, mine):
    key = mine.plantings["planting_id"][0]
    got, told = do(do="swap", planting=key, plant="Wild Bergamot")
    assert got.plantings["plant"][0] == "Monarda fistulosa"
    assert told.endswith("swapped for Monarda fistulosa")


def test_a_count_is_changed_and_none_strikes_it(do, mine):
    key, was = mine.plantings["planting_id"][0], int(mine.plantings["count"][0])
    got, told = do(do="count", planting=key, count=was + 4)
    assert int(got.plantings["count"][0]) == was + 4
    assert told.endswith(f": {was + 4} for {was}")
    for edit in ({"do": "count", "planting": key, "count": 0}, {"do": "strike", "planting": key}):
        got, _ = do(**edit)
        assert key not in set(got.plantings["planting_id"]) | set(got.points["planting_id"])


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        ({"do": "dance"}, "do is 'dance'"),
        ({}, "do is 'None'"),
        ({"do": "move", "bed": "nobody's", "east_m": 0, "north_m": 0}, "no bed"),
        ({"do": "strike", "planting": "nobody's"}, "no planting"),
        ({"do": "move", "bed": "BED", "east_m": "far", "north_m": 0}, "east_m is 'far'"),
        ({"do": "move", "bed": "BED", "east_m": True, "north_m": 0}, "east_m is 'True'"),
        ({"do": "move", "bed": "BED", "east_m": 1e9, "north_m": 0}, "a number from -1000"),
        ({"do": "move", "bed": "BED", "east_m": float("nan"), "north_m": 0}, "a number from"),
        ({"do": "reshape", "bed": "BED"}, "3 corners"),
        ({"do": "reshape", "bed": "BED", "ring": [[0, 0], [1, 1]]}, "3 corners"),
        ({"do": "reshape", "bed": "BED", "ring": [[0, 0], [1, 1], [2, 2]]}, "3 corners"),
        ({"do": "reshape", "bed": "BED", "ring": [[0, 0], [1, "a"], [2, 2]]}, "3 corners"),
        ({"do": "reshape", "bed": "BED", "ring": [[0, 0], [1, 0], [1, float("inf")]]}, "3 corners"),
        ({"do": "reshape", "bed": "BED", "ring": 7}, "3 corners"),
        ({"do": "swap", "planting": "KEY", "plant": "plastic fern"}, "plant is 'plastic fern'"),
        ({"do": "swap", "planting": "KEY"}, "a plant of the tables"),
        ({"do": "count", "planting": "KEY", "count": 2.5}, "a whole number"),
        ({"do": "count", "planting": "KEY", "count": -1}, "a number from 0"),
        ({"do": "count", "planting": "KEY"}, "a number from 0"),
    ],
)
def test_what_makes_no_sense_is_named(do, mine, edit, said):
    own = {"BED": mine.beds["bed_id"][0], "KEY": mine.plantings["planting_id"][0]}
    with pytest.raises(HabitatError, match=said):
        do(**{k: own.get(v, v) if isinstance(v, str) else v for k, v in edit.items()})

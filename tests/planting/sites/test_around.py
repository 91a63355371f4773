"""What lies around a bed: people who pass, and edges that hold what spreads; by hand."""

import geopandas as gpd
import pytest
from shapely import box

from habitat.planting.sites.around import PAVING, calm, containing, near, walked

BED = box(0, 0, 4, 1)


def closed(distance_m, setback_m=0.15, what=PAVING):
    """Paving to the right of the bed, widened by its setback as the survey widens it."""
    paving = box(4 + distance_m - setback_m, 0, 8, 1)
    return gpd.GeoDataFrame({"what": [what], "setback_m": [setback_m]}, geometry=[paving])


@pytest.mark.parametrize(("distance_m", "is_near"), [(1.4, True), (1.6, False)])
def test_paving_is_near_by_its_own_edge(distance_m, is_near):
    assert near(BED, closed(distance_m), 1.5) == is_near
    assert not near(BED, closed(distance_m, what="building"), 1.5)


@pytest.mark.parametrize(("from_m", "away_m", "left_m"), [(0.0, 1.5, 2.5), (1.0, 1.5, 3.5), (0.0, 4.5, 0.0)])
def test_calm_ground_is_what_lies_far_enough_from_paving(from_m, away_m, left_m):
    """A bed of 4 m by 1 m whose end looks at paving, which the survey has widened by 0.15 m; by hand."""
    paving = box(4 + from_m - 0.15, -9, 20, 9)
    rows = gpd.GeoDataFrame({"what": [PAVING], "setback_m": [0.15]}, geometry=[paving])
    people = walked(rows)
    assert people.bounds[0] == pytest.approx(4 + from_m)
    assert calm(BED, people, away_m).area == pytest.approx(left_m)
    assert calm(BED, walked(rows.assign(what="building")), away_m) is BED


def test_lawn_beyond_a_bed_is_mown_paving_and_light_count_where_they_are():
    yard = box(0, 0, 20, 20)
    assert containing(BED, yard, closed(5.0), 7.0) == ("mown_edge", "mowing", "lawn", "sun")
    assert containing(BED, yard, closed(0.3), 2.0) == ("mown_edge", "mowing", "lawn", "paving", "shade")
    nearly_all = box(0, 0, 4.4, 1)
    assert containing(BED, nearly_all, closed(5.0), 4.0) == ()


def test_paving_of_which_no_setback_is_known_lies_as_drawn():
    rows = closed(0.0)
    assert walked(rows.assign(setback_m=float("nan"))).equals(rows.geometry.iloc[0])

"""What lies around a bed: people who pass, and edges that hold what spreads; by hand."""

import geopandas as gpd
import pytest
from shapely import box

from habitat.planting.sites.around import KEEP_AWAY_M, PAVING, containing, near

BED = box(0, 0, 4, 1)


def closed(distance_m, setback_m=0.15, reason=PAVING):
    """Paving to the right of the bed, widened by its setback as the survey widens it."""
    paving = box(4 + distance_m - setback_m, 0, 8, 1)
    return gpd.GeoDataFrame({"reason": [reason], "setback_m": [setback_m]}, geometry=[paving])


@pytest.mark.parametrize(("distance_m", "is_near"), [(1.4, True), (1.6, False)])
def test_poison_stands_a_metre_and_a_half_from_paving(distance_m, is_near):
    assert KEEP_AWAY_M == 1.5  # path_offset of the practice table
    assert near(BED, closed(distance_m), KEEP_AWAY_M) == is_near
    assert not near(BED, closed(distance_m, reason="wall of a building"), KEEP_AWAY_M)


def test_lawn_beyond_a_bed_is_mown_paving_and_light_count_where_they_are():
    yard = box(0, 0, 20, 20)
    assert containing(BED, yard, closed(5.0), 7.0) == ("mown_edge", "mowing", "lawn", "sun")
    assert containing(BED, yard, closed(0.3), 2.0) == ("mown_edge", "mowing", "lawn", "paving", "shade")
    nearly_all = box(0, 0, 4.4, 1)
    assert containing(BED, nearly_all, closed(5.0), 4.0) == ()

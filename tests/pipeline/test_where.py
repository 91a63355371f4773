"""The filter on parcel columns: words, numbers, blanks, and columns that are not there."""

import geopandas as gpd
import pytest
import shapely

from habitat.errors import StudyError
from habitat.pipeline.where import where_allows
from tests.connectivity.invented_town import CRS_M, study

YARDS = gpd.GeoDataFrame(
    {"yard_id": ["a", "b", "c"], "Code": [1.0, 2.0, None], "USE": ["House", " house", "shop"]},
    geometry=[shapely.box(0, 0, 1, 1)] * 3,
    crs=CRS_M,
)


@pytest.mark.parametrize(
    ("filters", "passes"),
    [
        ({}, [True, True, True]),
        ({"where": {"USE": ["house"]}}, [True, True, False]),
        ({"where": {"code": ["2", "3"]}}, [False, True, False]),
        ({"where": {"USE": ["house"], "Code": ["1"]}}, [True, False, False]),
        ({"where_least": {"Code": 2}}, [False, True, False]),
        ({"where_most": {"Code": 1}}, [True, False, False]),
        ({"where": {"USE": []}}, [False, False, False]),
    ],
)
def test_all_that_is_asked_for_must_hold(filters, passes):
    assert where_allows(YARDS, study(connectivity=filters)).tolist() == passes


@pytest.mark.parametrize(
    ("filters", "said"),
    [
        ({"where": {"ZONING": ["R1"]}}, "names the column 'ZONING', which the parcels do not have"),
        ({"where": {"geometry": ["x"]}}, "which the parcels do not have"),
        ({"where_least": {"USE": 1}}, "which holds no number"),
    ],
)
def test_what_cannot_be_asked_for_is_refused(filters, said):
    with pytest.raises(StudyError, match=said):
        where_allows(YARDS, study(connectivity=filters))

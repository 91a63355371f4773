"""Names of streets along their longest piece."""

import geopandas as gpd
import pytest
from shapely.geometry import LineString, MultiLineString, Point

from habitat.report.words.streets import named_streets, reading_angle


def test_the_longest_piece_of_a_street_carries_its_name():
    short, long = LineString([(0, 0), (10, 0)]), LineString([(0, 5), (50, 5)])
    frame = gpd.GeoDataFrame(
        {"name": ["Elm Row", "Elm Row", "", None, "Ash Row"]},
        geometry=[short, MultiLineString([short, long]), long, long, None],
    )
    assert named_streets(frame) == {"Elm Row": long}
    assert named_streets(None) == {}
    assert named_streets(frame.drop(columns="name")) == {}


@pytest.mark.parametrize(("end", "angle"), [((10, 0), 0), ((-10, 0), 0), ((10, 10), -45), ((-10, 10), 45)])
def test_no_name_stands_on_its_head(end, angle):
    """Degrees clockwise, as SVG turns: a street that rises to the right is read turned against the clock."""
    assert reading_angle(LineString([(0, 0), end]), Point(0, 0)) % 180 == angle % 180
    assert abs(reading_angle(LineString([(0, 0), end]), Point(0, 0))) <= 90

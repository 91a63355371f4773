"""Places for plants that are added, and outlines that are mended."""

import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from habitat.revision.places import clean, places


def test_the_middle_is_farthest_from_four_corners():
    found = places(box(0, 0, 4, 4), [Point(x, y) for x in (0, 4) for y in (0, 4)], 1, 0.4)
    assert found[0].distance(Point(2, 2)) < 0.1


@given(st.floats(0.3, 6.0), st.floats(0.3, 6.0), st.integers(1, 12))
def test_all_places_lie_in_the_bed(wide, deep, count):
    bed = box(5, 5, 5 + wide, 5 + deep)
    found = places(bed, [Point(5.1, 5.1)], count, 0.5)
    assert len(found) == count
    assert all(bed.covers(place) for place in found)


def test_clean_keeps_polygons_and_nothing_else():
    bow = Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])
    assert clean(bow).is_valid
    assert clean(bow).area == 2.0
    whole = box(0, 0, 1, 1)
    assert clean(shapely.MultiPolygon([whole])).geom_type == "Polygon"
    assert clean(shapely.GeometryCollection([whole, LineString([(3, 3), (4, 4)])])).equals(whole)
    assert clean(LineString([(0, 0), (1, 1)])).is_empty

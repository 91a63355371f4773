"""A point belongs to exactly one yard."""

import geopandas as gpd
import numpy as np
import shapely

from habitat.layers.join.points import yards_at


def test_a_point_belongs_to_exactly_one_yard():
    yards = gpd.GeoDataFrame(
        {"yard_id": ["d", "c", "b", "a"]},
        geometry=[shapely.box(x, y, x + 10, y + 10) for x in (0, 10) for y in (0, 10)],
    )
    points = shapely.points([[10, 10], [10, 5], [5, 10], [5, 5], [20.04, 5], [20.06, 5], [10 - 0.01, 3]])
    assert yards_at(points, yards) == ["a", "b", "c", "d", "b", None, "d"]
    assert yards_at(np.array([None, shapely.Point()], dtype=object), yards) == [None, None]

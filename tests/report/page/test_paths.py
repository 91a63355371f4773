"""Shapes as paths of the page."""

import shapely

from habitat.report.page.paths import Sheet


def test_paths_are_whole_decimetres():
    sheet = Sheet(100.0, 200.0, 1000, 1000)
    ring = shapely.Polygon([(101, 199), (103, 199), (103, 198)], [])
    assert sheet.path(ring) == "M10 10h20v10z"
    assert sheet.path(shapely.LineString([(101, 199), (102.5, 197)])) == "M10 10l15 20"
    assert sheet.path(shapely.Polygon()) == ""
    assert sheet.path(shapely.Point(1, 1)) == ""

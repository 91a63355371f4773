"""An invented small plan, and its maps drawn once."""

import pytest

from habitat.report.maps.all import line_drawings, raster_drawings
from habitat.report.maps.style import Sheet, style
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"), report={"units": "us"})


@pytest.fixture(scope="module")
def sheets(plan):
    """Give every map by name, drawn but not saved."""
    drawn = {}

    def keep(sheet, folder, name):
        sheet.figure.draw_without_rendering()
        drawn[name] = sheet
        return []

    with pytest.MonkeyPatch.context() as patch, style():
        patch.setattr(Sheet, "save", keep)
        for draw in (*raster_drawings(plan), *line_drawings(plan)):
            draw(plan, None)
    return drawn

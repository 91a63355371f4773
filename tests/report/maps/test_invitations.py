"""The map of invitations."""

import re
from dataclasses import replace
from types import SimpleNamespace

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from habitat.report.maps.base import group_bounds, town_bounds
from habitat.report.maps.invitations import draw_invitations
from habitat.report.maps.style import Sheet, style


def test_invitations_without_room_are_counted(plan, sheets):
    """Of many candidates the first are told with their reasons, the number of the rest is told."""
    many = pd.concat([plan.invitations] * 20, ignore_index=True).assign(rank=range(1, 41))
    kept = {}
    with pytest.MonkeyPatch.context() as patch, style():
        patch.setattr(Sheet, "save", lambda sheet, folder, name: kept.setdefault(name, sheet) and [])
        draw_invitations(replace(plan, invitations=many), None)
    texts = [t.get_text() for t in kept["invitations"].figure.texts]
    told = [t for t in texts if re.match(r"\d+  yard ", t)]
    assert 0 < len(told) < 40
    assert f"{40 - len(told)} more: see the page." in texts
    assert not any("more: see the page" in t.get_text() for t in sheets["invitations"].figure.texts)


def test_the_caption_stays_on_the_sheet(sheets):
    """However long what the data are: nothing is written beyond the right edge."""
    for sheet in sheets.values():
        for text in sheet.figure.texts:
            assert text.get_window_extent(sheet.renderer).x1 <= sheet.width * sheet.figure.dpi + 1.0


def test_a_map_is_framed_on_who_takes_part_and_their_reach():
    """Two members in the corner of a town of 10 km; half of the monarch's moves are longer than 500 m."""
    boxes = [shapely.box(x, x, x + 20, x + 20) for x in (0, 100, 9_980)]
    yards = gpd.GeoDataFrame({"role": ["member", "candidate", "other"]}, geometry=boxes, crs=32617)
    table = pd.DataFrame({"typical_movement_median_m": [500.0]}, index=["monarch"])
    made = SimpleNamespace(
        yards=yards,
        layers=SimpleNamespace(frame=lambda name: None),
        headline={"butterflies": {"monarch": {}}},
        knowledge=SimpleNamespace(butterflies=table),
    )
    assert group_bounds(made) == (0.0, 0.0, 620.0, 620.0)
    made.yards = yards.assign(role="other")
    assert group_bounds(made) == town_bounds(made) == (0.0, 0.0, 10_000.0, 10_000.0)

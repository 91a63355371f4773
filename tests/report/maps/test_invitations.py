"""The map of invitations."""

import re
from dataclasses import replace
from types import SimpleNamespace

import geopandas as gpd
import pandas as pd
import pytest
import shapely
from matplotlib.figure import Figure

from habitat.report.maps.base import draw_locator, group_bounds, quiet_corner, town_bounds
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


def street(roles):
    """Return what a locator takes: yards of 20 m side by side, of which some take part."""
    boxes = [shapely.box(20 * k, 0, 20 * k + 20, 20) for k in range(len(roles))]
    yards = gpd.GeoDataFrame({"role": roles}, geometry=boxes, crs=32617)
    return SimpleNamespace(yards=yards, layers=SimpleNamespace(frame=lambda name: None))


@pytest.mark.parametrize(
    ("roles", "corner"),
    [(["member", *["other"] * 9], "SE"), ([*["other"] * 9, "candidate"], "SW"), (["member"] * 10, "NW")],
)
def test_the_locator_lies_where_it_hides_nobody_who_takes_part(roles, corner):
    """A map as wide as the street; it reaches 80 m beyond the street's upper edge in the last case."""
    high = 100 if corner == "NW" else 20
    assert quiet_corner(street(roles), (0.0, 0.0, 200.0, float(high))) == corner


@pytest.mark.parametrize(("wide", "drawn"), [(200.0, 0), (40.0, 1)])
def test_only_a_map_of_a_small_part_of_the_town_has_a_locator(wide, drawn):
    figure = Figure()
    ax = figure.add_subplot(xlim=(0, wide), ylim=(0, 20))
    draw_locator(ax, street(["member", *["other"] * 9]))
    assert len(ax.child_axes) == drawn
    for inset in ax.child_axes:
        frame = inset.collections[-1].get_paths()[0].get_extents()
        (left, right), (low, high) = inset.get_xlim(), inset.get_ylim()
        assert left < frame.x0 < 0.0
        assert 40.0 < frame.x1 < 50.0 < 200.0 < right
        assert low < frame.y0 < 0.0 < 20.0 < frame.y1 < high

"""The sun of a place: what wins, what is unknown and told."""

import numpy as np
import pytest
from shapely.geometry import box

from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, ArrayRaster, Small, frame_of, square_yards


def small(**vectors):
    return Small(square_yards(3, 20.0), margin=15.0, vectors=vectors)


def cell(layers, x, y):
    row, col = layers.grid.rowcol(WEST + x, SOUTH + y)
    return int(row), int(col)


HOUSE = [box(WEST + 5, SOUTH + 5, WEST + 15, SOUTH + 15)]


def test_a_hole_in_the_surface_is_unknown_and_told():
    made = small()
    made.rasters = {"surface_m": lambda x, y: np.where(x < WEST + 10, np.nan, 0.0)}
    site = made.survey()
    assert site.yards["sun_h_known"].tolist() == pytest.approx([0.5, 1, 1])
    assert any("heights are unknown on" in said(n) for n in site.notes)
    assert any("beyond the grid" in said(n) for n in site.notes)


def test_nothing_to_go_by_is_no_relief():
    relief, notes = small().relief()
    assert relief is None
    assert notes == []
    site = small().survey()
    assert "sun_h" not in site.assessed
    assert np.isnan(site.yards["sun_h_mean"]).all()
    assert (site.yards["sun_h_source"] == "not assessed").all()


def test_a_given_raster_wins_and_keeps_the_days_shape():
    made = small(buildings=frame_of(HOUSE, height_m=[6.0]))
    made.rasters = {"sun_h": ArrayRaster("sun_h", lambda x, y: np.where(x < WEST + 20, 5.0, 8.0))}
    site = made.survey()
    assert site.yards["sun_h_mean"].tolist() == pytest.approx([5, 8, 8])
    assert set(site.yards["sun_h_source"]) == {"sun raster"}
    open_spot = cell(made, 50, 10)
    assert site.rasters["sun_afternoon_h"][open_spot] == pytest.approx(4.0, abs=0.4)
    made = small()
    made.rasters = {"sun_h": lambda x, y: np.where(x < WEST + 20, 30.0, 8.0)}
    site = made.survey()
    assert "sun_afternoon_h" not in site.assessed
    assert np.isnan(site.yards["sun_h_mean"].iloc[0])
    assert any("is not 0 to 24 h" in said(n) for n in site.notes)

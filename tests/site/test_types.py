"""A site by windows."""

from shapely.geometry import Point, box

from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards


def full(yards=None):
    made = Small(square_yards(3, 20.0) if yards is None else yards, margin=10.0)
    made.vectors = {
        "buildings": frame_of([box(WEST + 5, SOUTH + 5, WEST + 12, SOUTH + 14)], height_m=[6.0]),
        "trees": frame_of([Point(WEST + 30, SOUTH + 10)], height_m=[9.0], crown_m=[5.0], evergreen=[False]),
    }
    made.rasters = {
        "ph": lambda x, y: 6 + (x - WEST) / 60,
        "sand_pct": 40.0,
        "clay_pct": 20.0,
        "depth_cm": 80.0,
        "drainage": 5.0,
    }
    return made


def test_windows_cut_every_factor_alike():
    site = full().survey()
    window = site.window((WEST + 2.5, SOUTH + 1, WEST + 9, SOUTH + 8))
    assert set(window.values) == set(site.rasters)
    assert {v.shape for v in window.values.values()} == {window.grid.shape}
    row, col = (int(v) for v in site.grid.rowcol(WEST + 4.5, SOUTH + 4.5))
    r, c = (int(v) for v in window.grid.rowcol(WEST + 4.5, SOUTH + 4.5))
    assert window.values["ph"][r, c] == site.rasters["ph"][row, col]

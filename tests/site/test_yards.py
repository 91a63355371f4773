"""One row per yard: its columns, its means, strange shapes."""

import numpy as np
import pytest
import shapely
from exactextract import exact_extract
from exactextract.raster import NumPyRasterSource
from shapely.geometry import Point, box

from habitat.factors import FACTORS
from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards, yards_of

CONTRACT = [
    "yard_id", "area_m2", "open_m2", "sun_h_mean", "sun_h_source", "ph_mean", "ph_source", "drainage_mode",
    "texture", "depth_cm_mean", "known_share", "geometry",
]  # fmt: skip


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


def test_columns_are_the_same_whatever_a_study_has():
    rich, poor = full().survey().yards, Small(square_yards(2)).survey().yards
    assert set(CONTRACT) <= set(rich.columns)
    assert rich.columns.tolist() == poor.columns.tolist()
    for name in FACTORS:
        assert {f"{name}_known", f"{name}_source"} <= set(rich.columns)
    assert (poor["ph_source"] == "not assessed").all()
    assert (poor["known_share"] == 0).all()
    assert rich["known_share"].tolist() == pytest.approx([1, 1, 1])


def test_yard_means_are_exactextract_s():
    """Issue: coverage weighting, against the library on its own."""
    made = full(
        yards_of(
            [
                box(WEST + 0.3, SOUTH + 0.6, WEST + 18.7, SOUTH + 19.2),
                box(WEST + 22, SOUTH, WEST + 40, SOUTH + 9.5),
            ]
        )
    )
    site = made.survey()
    for name, column in (("sun_h", "sun_h_mean"), ("ph", "ph_mean")):
        source = NumPyRasterSource(site.rasters[name], *site.grid.bounds, srs_wkt=site.grid.crs.to_wkt())
        plain = exact_extract(source, made.yards[["geometry"]], ["mean"], output="pandas")["mean"]
        assert np.allclose(site.yards[column], plain, atol=1e-5)


def test_sun_hours_that_somebody_worked_out_need_no_heights():
    made = Small(square_yards(2))
    made.rasters = {"sun_h": 6.0}
    yards = made.survey().yards
    assert yards["sun_h_mean"].tolist() == pytest.approx([6.0, 6.0])
    assert yards["sun_h_known"].tolist() == pytest.approx([1.0, 1.0])


def test_strange_yards_all_get_a_row():
    ring = shapely.Polygon(
        box(WEST, SOUTH, WEST + 20, SOUTH + 20).exterior,
        [box(WEST + 8, SOUTH + 8, WEST + 12, SOUTH + 12).exterior.coords],
    )
    pair = shapely.MultiPolygon(
        [box(WEST + 25, SOUTH, WEST + 30, SOUTH + 5), box(WEST + 35, SOUTH, WEST + 38, SOUTH + 5)]
    )
    speck = box(WEST + 41.2, SOUTH + 3.2, WEST + 41.5, SOUTH + 3.5)
    away = box(WEST + 500, SOUTH, WEST + 510, SOUTH + 10)
    made = full(yards_of([ring, pair, speck, away]))
    made.bounds = (WEST, SOUTH, WEST + 60, SOUTH + 20)
    site = made.survey()
    assert site.yards["yard_id"].tolist() == ["y0", "y1", "y2", "y3"]
    assert site.yards["ph_known"].tolist() == pytest.approx([1, 1, 1, 0])
    assert np.isnan(site.yards["ph_mean"].iloc[3])
    assert site.yards["ph_mean"].iloc[2] == pytest.approx(6 + 41.5 / 60, abs=0.02)
    assert len(site.open_ground) == 12


def test_a_yard_that_is_all_house_has_no_sun():
    made = full(yards_of([box(WEST + 6, SOUTH + 6, WEST + 11, SOUTH + 13)]))
    site = made.survey()
    assert np.isnan(site.yards["sun_h_mean"].iloc[0])
    assert site.yards["sun_h_source"].iloc[0] == "unknown"
    assert site.yards["open_m2"].iloc[0] == 0


def test_without_buildings_open_ground_is_unknown():
    made = full()
    del made.vectors["buildings"]
    site = made.survey()
    assert not site.placeable
    assert site.yards["open_m2"].isna().all()
    assert any("No buildings layer" in said(n) for n in site.notes)

"""Reading by window equals reading whole, at any cell size."""

import numpy as np
from affine import Affine

from habitat.layers.rasters.window import read_raster
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make
from tests.layers.raster_cases import PH


def test_reading_by_window_equals_reading_whole_and_blends_only_quantities(tmp_path, looked):
    looked(PH, nodata=-9999.0)()
    make.raster(tmp_path, np.round(10 * PH), "codes.tif")
    layers = read_layers(
        read_study(make.study(tmp_path, {"yards": "y.fgb"}, {"ph": "r.tif", "landcover": "codes.tif"}))
    )
    ph, cover, grid = layers.rasters["ph"], layers.rasters["landcover"], layers.grid
    whole = read_raster(ph, grid)
    rows, cols = slice(60, 90), slice(40, 100)
    np.testing.assert_allclose(read_raster(ph, grid.crop(rows, cols)), whole[rows, cols], rtol=1e-6)
    y, x = np.meshgrid(grid.y, grid.x, indexing="ij")
    plane = 5.2 + 0.04 * ((x - make.WEST) / 5 - 0.5) + 0.02 * ((make.SOUTH + 150 - y) / 5 - 0.5)
    inner = (x > make.WEST + 5) & (x < make.WEST + 195) & (y > make.SOUTH + 5) & (y < make.SOUTH + 145)
    np.testing.assert_allclose(whole[inner], plane[inner], atol=1e-4)  # bilinear keeps a plane
    assert np.isnan(whole[(x < make.WEST - 3) | (y < make.SOUTH - 3)]).all()
    codes = read_raster(cover, grid)
    assert set(np.unique(codes[np.isfinite(codes)])) <= set(np.unique(np.round(10 * PH)))


def test_a_finer_raster_is_averaged_not_sampled(tmp_path, looked):
    fine = np.tile([[4.0, 8.0], [8.0, 4.0]], (60, 80))
    looked(fine, cell=0.5, transform=Affine(0.5, 0, make.WEST + 20, 0, -0.5, make.SOUTH + 130))()
    layers = read_layers(read_study(make.study(tmp_path, {"yards": "y.fgb"}, {"ph": "r.tif"})))
    values = read_raster(layers.rasters["ph"], layers.grid)
    assert np.mean(values[np.isfinite(values)] == 6.0) > 0.999


def test_large_windows_are_read_in_tiles_with_the_same_result(tmp_path, looked, monkeypatch):
    looked(PH)()
    layers = read_layers(read_study(make.study(tmp_path, {"yards": "y.fgb"}, {"ph": "r.tif"})))
    whole = read_raster(layers.rasters["ph"], layers.grid)
    monkeypatch.setattr("habitat.layers.rasters.window.READ_CELLS", 200)
    np.testing.assert_allclose(read_raster(layers.rasters["ph"], layers.grid), whole, atol=1e-5)

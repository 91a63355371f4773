"""Reading by window equals reading whole, at any cell size."""

import numpy as np
import pytest
from affine import Affine

from habitat.errors import RasterError
from habitat.layers.rasters import window
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


def test_cells_too_many_to_read_are_refused_with_the_finest_that_fit(tmp_path, monkeypatch):
    """The cells are 5 m; as many are allowed as cells of 7 m would be, then as those of 5 m are."""
    make.yards().to_file(tmp_path / "yards.gpkg")
    make.raster(tmp_path, make.slope(), "ph.tif")
    path = make.study(tmp_path, {"yards": "yards.gpkg"}, {"ph": "ph.tif"})
    box = make.yards().bounds
    area = float(((box["maxx"] - box["minx"]) * (box["maxy"] - box["miny"])).sum())
    monkeypatch.setattr(window, "MOST_CELLS", area / 7.0**2)
    with pytest.raises(RasterError, match=r"ph.*cells of 5 m.*cells of 7 m or more"):
        read_layers(read_study(path))
    monkeypatch.setattr(window, "MOST_CELLS", area / 5.0**2)
    assert "ph" in read_layers(read_study(path)).rasters

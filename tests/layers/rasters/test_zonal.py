"""Values of yards, against the reference table."""

import json
from pathlib import Path

import numpy as np
import pytest
import shapely

from habitat.commands.check.account import check_study
from habitat.layers.rasters.zonal import yard_values
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make
from tests.layers.raster_cases import PH

REFERENCE = json.loads(
    (Path(__file__).parents[2] / "reference" / "zonal_cases.json").read_text(encoding="utf-8")
)


@pytest.mark.parametrize("void", [False, True])
def test_yard_values_against_the_reference_table(tmp_path, void):
    """Catalogue C1, C2 (``reference/zonal_cases.json``): closed arithmetic on a 5 x 5 raster."""
    values = np.arange(1.0, 26).reshape(5, 5)
    if void:
        values[2, 2] = -9999
    make.raster(tmp_path, values, "r.tif", cell=1.0, nodata=-9999.0)
    make.yards({"all": make.box(-3, -3, 12, 12)}).to_file(tmp_path / "y.fgb")
    layers = read_layers(read_study(make.study(tmp_path, {"yards": "y.fgb"}, {"depth_cm": "r.tif"})))
    zones = REFERENCE["with_centre_cell_13_as_nodata" if void else "zones"]
    shapes = {
        n: shapely.transform(
            shapely.from_wkt(REFERENCE["zones"][n]["wkt"]), lambda c: c + np.array([make.WEST, make.SOUTH])
        )
        for n in zones
    }
    found = yard_values(layers.rasters["depth_cm"], make.yards(shapes)).set_index("yard_id")
    for name, want in zones.items():
        assert found.loc[name, "known_share"] * shapes[name].area == pytest.approx(want["count"], abs=1e-5)
        if want["mean"] is None:
            assert np.isnan(found.loc[name, "mean"])
        else:
            assert found.loc[name, "mean"] == pytest.approx(want["mean"], abs=1e-5)


def test_shares_against_the_reference_table(tmp_path):
    """Catalogue C5: a zone over a 4 x 4 map of classes."""
    case = REFERENCE["categorical"]
    make.raster(tmp_path, np.array(case["raster"], float), "r.tif", cell=1.0)
    move = np.array([make.WEST, make.SOUTH])
    zone = shapely.transform(shapely.from_wkt(case["zone_wkt"]), lambda c: c + move)
    make.yards({"zone": zone}).to_file(tmp_path / "y.fgb")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb"}, {"landcover": "r.tif"}))
    shares = result["rasters"]["landcover"]["yards"][0]["shares"]
    assert shares == pytest.approx(case["fractions"], abs=1e-5)


def test_a_yard_larger_than_a_strip_adds_up(tmp_path, looked, monkeypatch):
    looked(PH)()
    layers = read_layers(read_study(make.study(tmp_path, {"yards": "y.fgb"}, {"ph": "r.tif"})))
    before = yard_values(layers.rasters["ph"], layers.yards)
    monkeypatch.setattr("habitat.layers.rasters.zonal.STRIP_CELLS", 20)
    monkeypatch.setattr("habitat.layers.rasters.zonal.CHUNK_CELLS", 16)
    after = yard_values(layers.rasters["ph"], layers.yards)
    np.testing.assert_allclose(after[["known_share", "mean"]], before[["known_share", "mean"]], rtol=1e-6)

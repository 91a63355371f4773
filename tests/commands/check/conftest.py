"""A study in which much has to be repaired or set aside."""

import numpy as np
import pytest
import shapely

from tests.layers import builders as make


@pytest.fixture
def messy(tmp_path):
    shapes = {name: make.box(*corners) for name, corners in make.YARDS.items()}
    shapes["bow"] = shapely.transform(
        shapely.Polygon([(0, 50), (24, 80), (24, 50), (0, 60)]),
        lambda c: c + np.array([make.WEST, make.SOUTH]),
    )
    shapes["nul"] = None
    shapes["over"] = make.box(20, 0, 42, 10)
    make.yards(shapes).to_parquet(tmp_path / "y.parquet")
    extra = f"P5,Aster,{make.degrees(300, 0)[1]},{make.degrees(300, 0)[0]},1\nP6,Aster,0,0,1\n"
    (tmp_path / "p.csv").write_text(make.plants_text() + extra, encoding="utf-8")
    make.raster(tmp_path, make.slope(), "ph.tif")
    return make.study(tmp_path, {"yards": "y.parquet", "plants": "p.csv"}, {"ph": "ph.tif"})

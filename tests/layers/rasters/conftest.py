"""A raster over three yards, changed as a test likes and looked at."""

import pytest

from tests.layers import builders as make
from tests.layers.raster_cases import cell_yards, changed


@pytest.fixture
def looked(tmp_path):
    cell_yards().to_file(tmp_path / "y.fgb")

    def check(values, name="ph", keys=None, **profile):
        path = make.raster(tmp_path, values, "r.tif", **profile)
        return lambda change=None: changed(tmp_path, path, change, name, keys)

    return check

"""A slope of values over three yards, and what must come of it."""

import numpy as np
import pytest
import rasterio

from habitat.commands.check.account import check_study
from tests.layers import builders as make

PH = make.slope()

HOLES = (np.arange(30)[:, None] + np.arange(40)[None, :]) % 7 == 0

WINDOWS = {"TB-01": (2, 8, 3, 11), "TB-02": (12, 18, 10, 16), "TB-03": (25, 35, 20, 28)}  # c0 c1 r0 r1


def cell_yards():
    """Return yards that cover whole cells of the 5 m raster, so that means are means of cells."""
    return make.yards(
        {n: make.box(5 * c0, 150 - 5 * r1, 5 * c1, 150 - 5 * r0) for n, (c0, c1, r0, r1) in WINDOWS.items()}
    )


def mean_of(values, window):
    c0, c1, r0, r1 = window
    part = np.asarray(values, float)[r0:r1, c0:c1]
    return np.nanmean(part), np.isfinite(part).mean()


def changed(folder, path, change, name, keys):
    if change is not None:
        with rasterio.open(path, "r+") as data:
            change(data)
    return check_study(make.study(folder, {"yards": "y.fgb"}, {name: {"path": path.name, **(keys or {})}}))


def holds(result, values, name="ph", tol=1e-4):
    assert result["error"] is None, result["error"]
    for row in result["rasters"][name]["yards"]:
        mean, known = mean_of(values, WINDOWS[row["yard_id"]])
        assert row["known_share"] == pytest.approx(known, abs=1e-4)
        assert row["mean"] == pytest.approx(mean, abs=tol)

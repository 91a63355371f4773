"""Rasters of the package: cloud-optimised, with both bounds of fit, the same each time."""

import struct
from dataclasses import replace

import numpy as np
import pytest
import rasterio

from habitat.errors import StudyError
from habitat.report.package.rasters import write_rasters
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    folder = tmp_path_factory.mktemp("study")
    return small_plan(folder, suitability={"rasters": ["swamp milkweed", "Zizia aurea"]})


@pytest.fixture(scope="module")
def rasters(plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("rasters")
    write_rasters(plan, folder)
    return folder


def image_directories(path):
    """Return (offset, width, tiled, first data offset, length of it) of every image directory of a TIFF."""
    raw = path.read_bytes()
    assert raw[:4] == b"II*\x00", "a classic little-endian TIFF"
    sizes = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 11: 4, 12: 8, 16: 8}
    found, offset = [], struct.unpack_from("<I", raw, 4)[0]
    while offset:
        tags = {}
        for k in range(struct.unpack_from("<H", raw, offset)[0]):
            tag, kind, count = struct.unpack_from("<HHI", raw, offset + 2 + 12 * k)
            at = offset + 2 + 12 * k + 8
            if sizes.get(kind, 1) * count > 4:
                at = struct.unpack_from("<I", raw, at)[0]
            tags[tag] = struct.unpack_from({3: "<H", 4: "<I"}.get(kind, "<B"), raw, at)[0]
        found.append((offset, tags[256], 322 in tags, tags.get(324)))
        offset = struct.unpack_from("<I", raw, offset + 2 + 12 * struct.unpack_from("<H", raw, offset)[0])[0]
    return found


def test_rasters_are_cloud_optimised(rasters):
    """OGC 21-026 (COG 1.0), clause 7: tiles, directories before the data, data of coarser levels first."""
    for path in sorted(rasters.glob("*.tif")):
        with rasterio.open(path) as source:
            assert source.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        directories = image_directories(path)
        assert all(tiled for _, _, tiled, _ in directories)
        data = [first for *_, first in directories]
        assert max(offset for offset, *_ in directories) < min(data)
        widths = [width for _, width, _, _ in directories]
        assert widths == sorted(widths, reverse=True)
        assert data == sorted(data, reverse=True)


def test_large_rasters_have_overviews(plan, tmp_path):
    from habitat.grid import Grid

    big = Grid.from_bounds((436_000, 4_417_000, 437_300, 4_417_700), 1.0, plan.site.grid.crs)
    values = np.add.outer(np.arange(700.0), np.arange(1300.0)).astype(np.float32) / 200
    site = replace(plan.site, grid=big, rasters={"sun_h": values})
    odd = replace(plan, site=site, study=plan.study.changed(suitability={"rasters": []}))
    write_rasters(odd, tmp_path)
    with rasterio.open(tmp_path / "sun_h.tif") as source:
        assert source.overviews(1)
        np.testing.assert_allclose(source.read(1), values, atol=0.0006)
    widths = [width for _, width, _, _ in image_directories(tmp_path / "sun_h.tif")]
    assert len(widths) > 1
    assert widths == sorted(widths, reverse=True)


def test_sun_raster_is_the_site_s(plan, rasters):
    with rasterio.open(rasters / "sun_h.tif") as source:
        assert source.crs == plan.site.grid.crs
        assert source.transform == plan.site.grid.transform
        assert source.units == ("h",)
        np.testing.assert_allclose(source.read(1), plan.site.rasters["sun_h"], atol=0.0006)
    with rasterio.open(rasters / "sun_afternoon_h.tif") as source:
        np.testing.assert_allclose(source.read(1), plan.site.rasters["sun_afternoon_h"], atol=0.0006)


def test_fit_raster_holds_both_bounds(plan, rasters):
    assert sorted(p.name for p in rasters.iterdir()) == [
        "fit-asclepias-incarnata.tif",
        "fit-zizia-aurea.tif",
        "sun_afternoon_h.tif",
        "sun_h.tif",
    ]
    with rasterio.open(rasters / "fit-zizia-aurea.tif") as source:
        low, high = source.read()
    assert ((low >= 0) & (high <= 1)).all()
    assert (low <= high).all()
    hole = np.isnan(plan.site.rasters["ph"])
    np.testing.assert_array_equal(low[~hole], high[~hole])
    assert (low[hole] == 0).all()  # an unknown pH may be the worst
    assert (high[hole] > 0).any()


def test_an_unknown_plant_among_the_rasters_is_an_error(plan, tmp_path):
    odd = replace(plan, study=plan.study.changed(suitability={"rasters": ["Asclepias incarnatta"]}))
    with pytest.raises(StudyError, match="did you mean Asclepias incarnata"):
        write_rasters(odd, tmp_path)


def test_equal_rasters_give_equal_bytes(plan, rasters, tmp_path):
    write_rasters(plan, tmp_path)
    for path in rasters.iterdir():
        assert (tmp_path / path.name).read_bytes() == path.read_bytes()

"""Rasters are read at their true places, or refused."""

import numpy as np
import pytest
from affine import Affine
from rasterio.warp import calculate_default_transform, reproject

from habitat.commands.check.account import check_study
from tests.layers import builders as make
from tests.layers.raster_cases import HOLES, PH, WINDOWS, cell_yards, holds, mean_of
from tests.layers.virtual import SOURCE, virtual


@pytest.mark.parametrize("turn", ["south up", "east to west", "rotated", "pixel is point"])
def test_grids_in_any_position_give_the_same_yards(looked, turn):
    place = Affine(5, 0, make.WEST, 0, -5, make.SOUTH + 150)
    if turn == "south up":
        result = looked(PH[::-1], transform=place @ Affine(1, 0, 0, 0, -1, 30))()
    elif turn == "east to west":
        result = looked(PH[:, ::-1], transform=place @ Affine(-1, 0, 40, 0, 1, 0))()
    elif turn == "rotated":
        result = looked(np.rot90(PH), transform=place @ Affine(0, -1, 40, 1, 0, 0))()
    else:
        result = looked(PH, transform=place)(lambda d: d.update_tags(AREA_OR_POINT="Point"))
    holds(result, PH)


@pytest.mark.parametrize("crs", ["EPSG:32616", "EPSG:3735", "EPSG:4326"])
def test_rasters_in_another_crs_meet_the_yards(looked, crs):
    smooth = PH.astype("float32")
    here = Affine(5, 0, make.WEST, 0, -5, make.SOUTH + 150)
    bounds = (make.WEST, make.SOUTH, make.WEST + 200, make.SOUTH + 150)
    there, width, height = calculate_default_transform("EPSG:32617", crs, 40, 30, *bounds)
    out = np.full((height, width), -9999.0, "float32")
    reproject(
        smooth,
        out,
        src_transform=here,
        src_crs="EPSG:32617",
        dst_transform=there,
        dst_crs=crs,
        dst_nodata=-9999.0,
        resampling=1,
    )
    result = looked(out, transform=there, crs=crs, nodata=-9999.0)()
    for row in result["rasters"]["ph"]["yards"]:
        assert row["known_share"] > 0.99
        assert row["mean"] == pytest.approx(mean_of(PH, WINDOWS[row["yard_id"]])[0], abs=0.01)
    assert result["rasters"]["ph"]["cell_m"] == pytest.approx(5, rel=0.1)


def test_longitudes_from_0_to_360(looked):
    lon, lat = make.degrees(0, 150)
    step = 0.00005
    result = looked(
        np.tile(PH, (2, 2)), transform=Affine(step, 0, lon + 360, 0, -step, lat), crs="EPSG:4326"
    )()
    assert result["error"] is None
    assert "360" in make.notes(result, "ph")
    assert all(y["known_share"] == 1 for y in result["rasters"]["ph"]["yards"])


@pytest.mark.parametrize(
    ("profile", "words"),
    [
        ({"crs": None}, "no coordinate reference system"),
        ({"crs": "EPSG:4326"}, "out of range for longitude"),
        ({"transform": Affine(5, 0, make.WEST + 5000, 0, -5, make.SOUTH)}, "does not meet the yards"),
        ({"crs": "EPSG:32618"}, "does not meet the yards"),
        ({"transform": Affine(1e-4, 0, -82.9, 0, -1e-4, 39.9)}, "look like longitude and latitude"),
    ],
)
def test_rasters_that_cannot_be_placed_are_refused(looked, profile, words):
    assert words in looked(PH, **profile)()["error"]["message"]


def test_bands_are_never_guessed(looked):
    bands = np.stack([PH - 3, PH, PH + 20])

    def name(data):
        data.descriptions = ("organic matter", "ph", "clay")

    message = looked(bands)(name)["error"]["message"]
    assert "3 bands: 1 (organic matter), 2 (ph), 3 (clay)" in message
    holds(looked(bands, keys={"band": 2})(), PH)
    assert "band is 4" in looked(bands, keys={"band": 4})()["error"]["message"]
    picture = np.zeros((3, 30, 40))
    assert "picture" in looked(picture, "sun_h", dtype="uint8", photometric="rgb")()["error"]["message"]


def test_ascii_grids_and_virtual_rasters(tmp_path):
    cell_yards().to_file(tmp_path / "y.fgb")
    rows = "\n".join(" ".join(f"{v:.2f}" for v in row) for row in np.where(HOLES, -9999, PH))
    head = (
        f"ncols 40\nnrows 30\nxllcorner {make.WEST}\nyllcorner {make.SOUTH}\ncellsize 5\nNODATA_value -9999\n"
    )
    (tmp_path / "a.asc").write_text(head + rows, encoding="utf-8")
    result = check_study(
        make.study(tmp_path, {"yards": "y.fgb"}, {"ph": {"path": "a.asc", "crs": "EPSG:32617"}})
    )
    holds(result, np.where(HOLES, np.nan, PH), tol=1e-4)
    assert (
        "no coordinate reference system"
        in check_study(make.study(tmp_path, {"yards": "y.fgb"}, {"ph": "a.asc"}))["error"]["message"]
    )


def test_grids_as_text_with_decimal_commas_are_refused(tmp_path):
    """The format library reads 6,5 as 6: every pH would lose its decimals in silence."""
    cell_yards().to_file(tmp_path / "y.fgb")
    head = f"ncols 40\nnrows 30\nxllcorner {make.WEST}\nyllcorner {make.SOUTH}\ncellsize 5\n"
    rows = "\n".join(" ".join(f"{v:.2f}".replace(".", ",") for v in row) for row in PH)
    (tmp_path / "ph.asc").write_text(head + rows, encoding="utf-8")
    path = make.study(tmp_path, {"yards": "y.fgb"}, {"ph": {"path": "ph.asc", "crs": "EPSG:32617"}})
    assert "decimal commas" in check_study(path)["error"]["message"]
    (tmp_path / "ph.asc").write_text((head + rows).replace(",", "."), encoding="utf-8")
    holds(check_study(path), np.round(PH, 2), tol=1e-3)


@pytest.mark.parametrize(
    ("inside", "attributes", "words"),
    [
        (SOURCE.format(relative=0, name="/vsicurl/http://example.invalid/a.tif"), "", "network"),
        (SOURCE.format(relative=0, name="https://example.invalid/a.tif"), "", "network"),
        (SOURCE.format(relative=0, name="&lt;GDAL_WMS/&gt;"), "", "no file on disk"),
        (SOURCE.format(relative=1, name="gone/tile.tif"), "", "gone/tile.tif"),
        ("<PixelFunctionType>sum</PixelFunctionType>", "", "code in files is not run"),
        ("", ' subClass="VRTDerivedRasterBand"', "code in files is not run"),
        ("", ' subClass="VRTRawRasterBand"', "code in files is not run"),
        (SOURCE.format(relative=1, name="ph.vrt"), "", "in a circle"),
        (SOURCE.format(relative=1, name="fake.tif"), "", "no raster of a known kind"),
    ],
)
def test_virtual_rasters_are_looked_into(tmp_path, inside, attributes, words):
    (tmp_path / "fake.tif").write_text("<GDAL_WMS><Service name='TMS'/></GDAL_WMS>", encoding="utf-8")
    result = virtual(tmp_path, inside, attributes)
    assert result["exit"] == 2
    assert words in result["error"]["message"]


@pytest.mark.parametrize("relative", [0, 1])
def test_virtual_rasters_find_their_tiles_from_anywhere(tmp_path, relative, monkeypatch):
    (tmp_path / "tiles").mkdir()
    make.raster(tmp_path / "tiles", make.slope(), "a.tif")
    monkeypatch.chdir("/")
    result = virtual(tmp_path, SOURCE.format(relative=relative, name="tiles/a.tif"))
    assert result["error"] is None
    assert all(y["known_share"] == 1 for y in result["rasters"]["ph"]["yards"])


def test_a_sidecar_that_points_to_the_network_is_refused(tmp_path):
    make.yards().to_file(tmp_path / "y.fgb")
    make.raster(tmp_path, make.slope(), "ph.tif")
    (tmp_path / "ph.tif.aux.xml").write_text(
        '<PAMDataset><Metadata domain="OVERVIEWS"><MDI '
        'key="OVERVIEW_FILE">/vsicurl/http://example.invalid/o.tif</MDI></Metadata></PAMDataset>',
        encoding="utf-8",
    )
    assert (
        "network"
        in check_study(make.study(tmp_path, {"yards": "y.fgb"}, {"ph": "ph.tif"}))["error"]["message"]
    )

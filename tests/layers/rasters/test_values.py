"""Rasters are read at their true values; what nobody declared is found and told."""

import numpy as np
import pytest
import rasterio
from affine import Affine
from rasterio.enums import ColorInterp

from habitat.errors import RasterError
from habitat.layers.rasters.values import look_at_codes, look_at_values, refuse_small_unit
from habitat.layers.rasters.window import read_raster
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make
from tests.layers.raster_cases import HOLES, PH, WINDOWS, holds


@pytest.mark.parametrize(
    ("bad", "dtype", "declared", "told"),
    [
        (-9999.0, "float32", -9999.0, ""),
        (-9999.0, "float32", None, "-9999"),
        (np.nan, "float32", None, ""),
        (-3.4028234663852886e38, "float32", None, "no nodata value is declared"),
        (-3.4028234663852886e38, "float32", -3.40282306074e38, ""),
        (1e20, "float32", None, "no nodata value is declared"),
        (0.0, "float32", None, "zero"),
        (-1.0, "float64", None, "-1"),
    ],
)
def test_gaps_are_found_whether_declared_or_not(looked, bad, dtype, declared, told):
    values = np.where(HOLES, bad, PH)
    result = looked(values, dtype=dtype, nodata=declared)()
    holds(result, np.where(HOLES, np.nan, PH))
    assert told in make.notes(result, "ph")


def test_whole_number_gaps_in_small_types(looked):
    hours = 1 + (2 * np.arange(40)[None, :] + 3 * np.arange(30)[:, None]) % 11
    known = np.where(HOLES, np.nan, hours)
    holds(looked(np.where(HOLES, 255, hours), "sun_h", dtype="uint8")(), known, "sun_h")
    holds(looked(np.where(HOLES, -32768, hours), "sun_h", dtype="int16")(), known, "sun_h")
    result = looked(np.where(HOLES, 0, hours), "sun_h", {"nodata": 0}, dtype="uint8", nodata=255)()
    holds(result, known, "sun_h")
    assert "the study's 0 is used" in make.notes(result, "sun_h")
    result = looked(hours, "sun_h", {"nodata": -1}, dtype="uint8", nodata=3)()
    holds(result, hours, "sun_h")  # the file's own nodata no longer counts


def test_masks_and_alpha_mark_gaps(looked):
    hours = np.where(HOLES, 0, 1 + np.arange(40)[None, :] % 9 + np.zeros((30, 1)))
    known = np.where(HOLES, np.nan, hours)
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True):
        holds(looked(hours, "sun_h", dtype="uint8")(lambda d: d.write_mask(~HOLES)), known, "sun_h")
    both = np.stack([hours, np.where(HOLES, 0, 255)])
    result = looked(both, "sun_h", dtype="uint8", photometric="minisblack", alpha="yes")()
    holds(result, known, "sun_h")
    assert "alpha" in make.notes(result, "sun_h")
    for order in ((1, 0), (0, 0, 1)):  # where the format library does not make a mask of it

        def mark(data, order=order):
            data.colorinterp = [ColorInterp.alpha if o else ColorInterp.gray for o in order]

        band = order.index(0) + 1
        holds(looked(both[list(order)], "sun_h", {"band": band}, dtype="uint8")(mark), known, "sun_h")


def test_scale_and_offset_are_applied_stated_or_missed(looked):
    stored = np.rint(PH * 10)
    holds(looked(stored, dtype="int16", nodata=-32768)(lambda d: setattr(d, "scales", (0.1,))), stored / 10)
    holds(
        looked(stored + 100, dtype="int16")(
            lambda d: (setattr(d, "scales", (0.1,)), setattr(d, "offsets", (-10.0,)))
        ),
        stored / 10,
    )
    holds(looked(stored, keys={"scale": 0.1}, dtype="int16")(), stored / 10)
    message = looked(stored, dtype="int16")()["error"]["message"]
    assert "out of the range 2 to 11 of soil pH" in message
    assert "state scale = 0.1)" in message
    message = looked(PH)(lambda d: setattr(d, "scales", (0.1,)))["error"]["message"]
    assert "state scale = 1)" in message
    message = looked(60.0 * (1 + np.arange(40)[None, :] % 9 + np.zeros((30, 1))), "sun_h")()["error"][
        "message"
    ]
    assert "in minutes (then state scale = 0.0166667)" in message


def test_heights_in_feet_become_metres(looked):
    feet = 800 + PH
    holds(
        looked(feet, "terrain_m")(lambda d: setattr(d, "units", ("ft",))),
        feet * 0.3048,
        "terrain_m",
        tol=1e-3,
    )
    holds(looked(feet, "terrain_m", crs="EPSG:32617+6360")(), feet * 1200 / 3937, "terrain_m", tol=1e-3)


def test_a_rim_of_zeros_around_heights_is_no_ground(looked):
    rim = np.zeros((30, 40), bool)
    rim[:, :5] = rim[25:] = True
    result = looked(np.where(rim, 0, 230 + PH), "terrain_m")()
    assert "collar" in make.notes(result, "terrain_m")
    holds(result, np.where(rim, np.nan, 230 + PH), "terrain_m", tol=1e-3)
    result = looked(np.where(rim, 0, PH - 5), "terrain_m")()  # low ground may be 0
    assert "collar" not in make.notes(result, "terrain_m")


def test_all_nodata_stays_unknown_and_partial_cover_is_told_by_yard(looked, tmp_path):
    result = looked(np.full((30, 40), -9999.0), nodata=-9999.0)()
    assert result["exit"] == 0
    assert [y["mean"] for y in result["rasters"]["ph"]["yards"]] == [None] * 3
    assert "all nodata" in make.notes(result, "ph")
    result = looked(PH[:, :30], transform=Affine(5, 0, make.WEST, 0, -5, make.SOUTH + 150))()
    assert "TB-03: covered in part only, 50% of it known" in make.notes(result, "ph")
    assert "outside its extent: TB-03" in make.notes(result, "ph")
    result = looked(np.array([[6.0, 6.5], [7.0, 7.5]]), cell=100.0)()
    assert "larger than 3 yard(s)" in make.notes(result, "ph")


def test_classes_keep_their_codes_and_names(looked, tmp_path):
    codes = 1 + (np.arange(30)[:, None] // 4 + np.arange(40)[None, :] // 3) % 3
    codes[0, 0] = 9
    (tmp_path / "legend.csv").write_text("value,meaning\n1,sand\n2,loam\n3,clay\n", encoding="utf-8")
    result = looked(codes, "texture", {"classes": "legend.csv"}, dtype="uint8")()
    for row in result["rasters"]["texture"]["yards"]:
        c0, c1, r0, r1 = WINDOWS[row["yard_id"]]
        part = codes[r0:r1, c0:c1]
        assert row["shares"] == pytest.approx({str(k): (part == k).mean() for k in np.unique(part)}, abs=1e-4)
    assert result["rasters"]["texture"]["classes"] == {"1": "sand", "2": "loam", "3": "clay"}
    assert "codes without a name in its classes are unknown: 9" in make.notes(result, "texture")
    assert (
        "'nothing.csv', which is not there"
        in looked(codes, "texture", {"classes": "nothing.csv"})()["error"]["message"]
    )


def test_classes_of_a_quantity_are_unknown_to_a_plan_unless_named_by_numbers(tmp_path, looked):
    codes = 1 + np.arange(40)[None, :] // 20 + np.zeros((30, 1))
    looked(codes, "sun_h", dtype="uint8", photometric="palette")(
        lambda d: d.write_colormap(1, {k: (k, 0, 0, 255) for k in range(256)})
    )
    for keys, expected in (({}, None), ({"classes": {"1": "2.5", "2": "7"}}, {2.5, 7.0})):
        layers = read_layers(
            read_study(make.study(tmp_path, {"yards": "y.fgb"}, {"sun_h": {"path": "r.tif", **keys}}))
        )
        assert layers.rasters["sun_h"].kind == "class"
        values = read_raster(layers.rasters["sun_h"], layers.grid)
        found = set(np.unique(values[np.isfinite(values)]).tolist())
        assert found == (expected or set())


def test_values_and_codes_looked_at_alone():
    found = look_at_values("ph", np.array([[6.0, -7777.0, 6.5]]), 1.0, 0.0, "x")
    assert found.nodata == (-7777.0,)
    assert look_at_codes("landcover", np.array([1.0, 2.0, 255.0]), named=False).nodata == (255.0,)
    assert look_at_codes("landcover", np.array([230.0, 240.0, 255.0]), named=False).nodata == ()
    assert look_at_codes("texture", np.array([0.0, 3.0]), named=False).nodata == (0.0,)


@pytest.mark.parametrize(
    ("name", "values", "unit"),
    [("sand_pct", [0.65, 0.7, -9999.0], "shares of 1"), ("depth_cm", [0.4, 1.5, 2.0], "metres")],
)
def test_values_in_a_larger_unit_are_refused(name, values, unit):
    with pytest.raises(RasterError, match=f"{unit}.*scale = 100"):
        refuse_small_unit(name, np.array([values]), (-9999.0,), "x")
    refuse_small_unit(name, np.array([values]) * 100, (-999900.0,), "x")
    refuse_small_unit(name, np.array([[0.0, 1.0]]), (), "x")  # whole numbers: dune sand, bare rock
    refuse_small_unit("ph", np.array([[0.5]]), (), "x")


def test_a_share_of_one_is_read_when_the_study_says_so(looked):
    values = np.full(PH.shape, 0.25)
    assert "shares of 1" in looked(values, "sand_pct")()["error"]["message"]
    told = looked(values, "sand_pct", {"scale": 100.0})()["rasters"]["sand_pct"]["yards"]
    assert [round(yard["mean"], 4) for yard in told] == [25.0] * 3


def test_classes_that_were_averaged_are_refused_or_told(looked):
    codes = np.where(np.arange(40)[None, :] < 20, 3.0, 7.0) + np.zeros((30, 1))
    result = looked(codes + 0.4, "texture")()
    assert "1200 of 1200 cells hold no class code, such as 3.4" in result["error"]["message"]
    codes[:, 19] = 5.4
    result = looked(codes, "texture")()
    assert result["error"] is None
    assert "hold no class code, such as 5.4" in make.notes(result, "texture")
    assert looked(codes, "zone")()["error"] is None  # half zones are written with a decimal

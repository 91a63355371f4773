"""Rasters are read at their true values and places, or refused; what nobody declared is found and told."""

import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from rasterio.enums import ColorInterp
from rasterio.warp import calculate_default_transform, reproject

from habitat.commands.check.account import check_study
from habitat.errors import RasterError
from habitat.grid import Grid
from habitat.layers.rasters.values import look_at_codes, look_at_values, refuse_small_unit
from habitat.layers.rasters.window import read_raster
from habitat.layers.rasters.zonal import yard_values
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "zonal_cases.json").read_text(encoding="utf-8")
)
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


@pytest.fixture
def looked(tmp_path):
    cell_yards().to_file(tmp_path / "y.fgb")

    def check(values, name="ph", keys=None, **profile):
        path = make.raster(tmp_path, values, "r.tif", **profile)
        return lambda change=None: _changed(tmp_path, path, change, name, keys)

    return check


def _changed(folder, path, change, name, keys):
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


def test_large_windows_are_read_in_tiles_with_the_same_result(tmp_path, looked, monkeypatch):
    looked(PH)()
    layers = read_layers(read_study(make.study(tmp_path, {"yards": "y.fgb"}, {"ph": "r.tif"})))
    whole = read_raster(layers.rasters["ph"], layers.grid)
    monkeypatch.setattr("habitat.layers.rasters.window.READ_CELLS", 200)
    np.testing.assert_allclose(read_raster(layers.rasters["ph"], layers.grid), whole, atol=1e-5)


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


def test_grid_covers_the_yards_and_what_shades_them(tmp_path):
    make.yards().to_file(tmp_path / "y.fgb")
    grid = read_layers(read_study(make.study(tmp_path, {"yards": "y.fgb"}))).grid
    assert isinstance(grid, Grid)
    west, south, east, north = gpd.read_file(tmp_path / "y.fgb").total_bounds
    assert grid.bounds == (west - 50, south - 50, east + 50, north + 50)


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


def test_classes_that_were_averaged_are_refused_or_told(looked):
    codes = np.where(np.arange(40)[None, :] < 20, 3.0, 7.0) + np.zeros((30, 1))
    result = looked(codes + 0.4, "texture")()
    assert "1200 of 1200 cells hold no class code, such as 3.4" in result["error"]["message"]
    codes[:, 19] = 5.4
    result = looked(codes, "texture")()
    assert result["error"] is None
    assert "hold no class code, such as 5.4" in make.notes(result, "texture")
    assert looked(codes, "zone")()["error"] is None  # half zones are written with a decimal

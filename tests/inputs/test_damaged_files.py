"""Damaged files end in a result or in one clear error: never in another exception, never half read."""

import json
import random
import shutil

import numpy as np
import pytest

from habitat.commands.check.account import check_study
from habitat.layers.read import read_parts
from habitat.study.files import sources_of
from habitat.study.reading import open_study
from tests.layers import builders as make
from tests.support.damaged_results import READ_BY, use_damaged

SEED, EACH = 20260301, 28


def geojson(folder):
    make.yards(label=["a", "é", "c"]).to_crs(4326).to_file(folder / "yards.geojson")
    return {"yards": "yards.geojson"}, {}


def gpkg(folder):
    make.yards().to_file(folder / "yards.gpkg", layer="yards")
    return {"yards": "yards.gpkg"}, {}


def shapefile(folder):
    make.shapefile(folder)
    return {"yards": "yards.shp"}, {}


def zipped(folder):
    (folder / "in").mkdir()
    make.shapefile(folder / "in")
    make.zipped(folder, sorted((folder / "in").iterdir()), "yards.zip")
    shutil.rmtree(folder / "in")
    return {"yards": "yards.zip"}, {}


def flatgeobuf(folder):
    make.yards().to_file(folder / "yards.fgb")
    return {"yards": "yards.fgb"}, {}


def parquet(folder):
    make.yards().to_parquet(folder / "yards.parquet")
    return {"yards": "yards.parquet"}, {}


def kml(folder):
    return {"yards": make.kml(folder).name}, {}


def gpx(folder):
    return {
        "yards": {"path": make.gpx(folder).name, "layer": "tracks"},
        "plants": {"path": "walk.gpx", "columns": {"plant": "name"}},
    }, {}


def table(folder):
    (folder / "plants.csv").write_text(make.plants_text(), encoding="utf-8")
    make.yards().to_file(folder / "base.fgb")
    return {"yards": "base.fgb", "plants": "plants.csv"}, {}


def wkt(folder):
    frame = make.yards()
    lines = [
        "yard_id,wkt",
        *(f'{i},"{s.wkt}"' for i, s in zip(frame["yard_id"], frame.geometry, strict=True)),
    ]
    (folder / "yards.csv").write_text("\n".join(lines), encoding="utf-8")
    return {"yards": {"path": "yards.csv", "crs": "EPSG:32617"}}, {}


def workbook(folder):
    make.workbook(folder, [("yard_id", "ph"), ("TB-01", 6.4), ("TB-02", 7.0), ("TB-03", "5,9")], "soil.xlsx")
    make.yards().to_file(folder / "base.fgb")
    return {"yards": "base.fgb", "soil_tests": "soil.xlsx"}, {}


def tiff(folder):
    make.raster(folder, make.slope(), "ph.tif", nodata=-9999.0)
    make.yards().to_file(folder / "base.fgb")
    return {"yards": "base.fgb"}, {"ph": "ph.tif"}


def ascii_grid(folder):
    rows = "\n".join(" ".join(f"{v:.2f}" for v in row) for row in make.slope())
    head = (
        f"ncols 40\nnrows 30\nxllcorner {make.WEST}\nyllcorner {make.SOUTH}\ncellsize 5\nNODATA_value -9999\n"
    )
    (folder / "ph.asc").write_text(head + rows, encoding="utf-8")
    make.yards().to_file(folder / "base.fgb")
    return {"yards": "base.fgb"}, {"ph": {"path": "ph.asc", "crs": "EPSG:32617"}}


def virtual(folder):
    make.raster(folder, make.slope(), "tile.tif", nodata=-9999.0)
    (folder / "ph.vrt").write_text(
        f'<VRTDataset rasterXSize="40" rasterYSize="30"><SRS>EPSG:32617</SRS><GeoTransform>{make.WEST}, '
        f'5, 0, {make.SOUTH + 150}, 0, -5'
        '</GeoTransform><VRTRasterBand dataType="Float32" band="1"><SimpleSource><SourceFilename '
        'relativeToVRT="1">tile.tif'
        '</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>',
        encoding="utf-8",
    )  # fmt: skip
    make.yards().to_file(folder / "base.fgb")
    return {"yards": "base.fgb"}, {"ph": "ph.vrt"}


def beside(folder):
    """A yard drawn beside parcels, and the tables that people fill in."""
    make.yards(address=make.ADDRESSES).to_file(folder / "base.fgb")
    lon, lat = make.degrees(110, 20)
    texts = {
        "oak": f"""what,name,point,along,out,from_1,distance_1,from_2,distance_2,side,value,crown
setting,unit,,,,,,,,,metres,
setting,latitude,,,,,,,,,{lat:.7f},
setting,longitude,,,,,,,,,{lon:.7f},
setting,bearing,,,,,,,,,90,
yard,lot,start,0,0,,,,,,,
yard,lot,b,10,0,,,,,,,
yard,lot,c,,,start,18.87,b,16,right,,
yard,lot,d,0,16,,,,,,,
building,house,,2,2,,,,,,5,
building,house,,8,2,,,,,,,
building,house,,8,7.5,,,,,,,
tree,white oak,,9,12,,,,,,8,4 m
check,,,,,start,18.9,c,,,,
""",
        "changes": "change,yard_ids,new_ids,lon_1,lat_1,lon_2,lat_2,by\njoin,TB-01;TB-02,home,,,,,\n"
        "split,TB-03,a;b,,,,,lot\n",
        "people": "yard_id,address,role,budget\nTB-01,,yes,$50-100\n,7 N Kiln St,member,\n",
        "matches": "yard_id_given,address,yard_id,yard_address,how,answer,note\nTB-01,,TB-01,,id,confirmed,\n"
        ",7 N Kiln St,TB-03,,address,refused,\n",
        "walk": "yard_id,trees,drive,wet,sun_front\nTB-01,none,left,back,full\nTB-03,yes,,,part\n",
        "season": "planting_id,planted,planted_on,alive_june\nTB-01-p1,all,2026-05,3\nTB-03-p1,,,no\n",
    }
    for name, text in texts.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    names = {"more_yards": "oak", "parcel_changes": "changes", "participants": "people"}
    named = {**names, "matches": "matches", "walk": "walk", "season": "season"}
    return {"yards": "base.fgb"} | {layer: f"{name}.csv" for layer, name in named.items()}, {}


KINDS = [
    beside,
    geojson,
    gpkg,
    shapefile,
    zipped,
    flatgeobuf,
    parquet,
    kml,
    gpx,
    table,
    wkt,
    workbook,
    tiff,
    ascii_grid,
    virtual,
]


def mutate(data, rng):
    """Return a damaged copy of a file's bytes."""
    data = bytearray(data)
    how = rng.randrange(6)
    if how == 0:
        return bytes(data[: rng.randrange(len(data))])
    if how == 1:
        for _ in range(rng.choice([1, 3, 20])):
            data[rng.randrange(len(data))] = rng.randrange(256)
    elif how == 2:
        start = rng.randrange(len(data))
        del data[start : start + rng.choice([1, 4, 50, 400])]
    elif how == 3:
        start = rng.randrange(len(data))
        data[start:start] = data[start : start + rng.choice([1, 8, 64])] or b"\0"
    elif how == 4:
        start, size = rng.randrange(len(data)), rng.choice([4, 8, 64])
        data[start : start + size] = bytes(
            rng.choice([0, 255]) for _ in range(len(data[start : start + size]))
        )
    else:
        old, new = rng.choice([(b"yard_id", b"PIN_NO_"), (b"TB-0", b"\xff\xfe\x00\x01"), (b"lat", b"lax"),
            (b"ph", b"zz"), (b"-82.", b"8e99"),
                               (b"EPSG", b"ESPG"), (b"Polygon", b"Point  "), (b",", b";"), (b"[", b"{"),
                               (b"<", b"&")])  # fmt: skip
        return bytes(data).replace(old, new)
    return bytes(data)


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.__name__)
def test_damaged_files_end_in_a_result_or_an_error(kind, tmp_path):
    rng = random.Random(f"{SEED} {kind.__name__}")
    good = tmp_path / "good"
    good.mkdir()
    layers, rasters = kind(good)
    assert check_study(make.study(good, layers, rasters))["error"] is None
    files = [p for p in sorted(good.iterdir()) if p.name not in ("study.toml", "base.fgb")]
    outcomes = set()
    for number in range(EACH):
        folder = tmp_path / str(number)
        shutil.copytree(good, folder)
        victim = folder / rng.choice(files).name
        victim.write_bytes(mutate(victim.read_bytes(), rng))
        before = {p.name for p in folder.iterdir()}
        result = check_study(folder / "study.toml")
        json.dumps(result, allow_nan=False)
        assert result["exit"] in (0, 1, 2)
        assert (result["exit"] == 2) == (result["error"] is not None)
        for layer in result["layers"].values():
            assert layer["used"] + layer["repaired"] + layer["set_aside"] == layer["rows_in"]
        assert all(np.isfinite(y["area_m2"]) and y["area_m2"] >= 0 for y in result["yards"])
        assert {p.name for p in folder.iterdir()} == before, "reading left a file behind"
        outcomes.add(result["exit"])
        shutil.rmtree(folder)
    assert outcomes & {1, 2}, "no damage was noticed at all"


MANY = 300


def read_damaged(kind, folder, count, seed=SEED):
    """Read many damaged copies of a format's files in place; return how many were read and how many refused.

    Raises
    ------
    Exception
        Of any kind but HabitatError, with the number of the copy that brought it about.
    """
    rng = random.Random(f"{seed} many {kind.__name__}")
    layers, rasters = kind(folder)
    sources = sources_of(open_study(make.study(folder, layers, rasters))[0])
    files = [p for p in sorted(folder.iterdir()) if p.name not in ("study.toml", "base.fgb")]
    whole = {path: path.read_bytes() for path in files}
    ends = {"read": 0, "refused": 0}
    for number in range(count):
        victim = rng.choice(files)
        victim.write_bytes(mutate(whole[victim], rng))
        try:
            faults = read_parts(sources).faults
        except Exception as error:
            raise AssertionError(f"copy {number} of {victim.name} ended in {error!r}") from error
        ends["refused" if faults else "read"] += 1
        victim.write_bytes(whole[victim])
    return ends


FEW = {"run.json": 12, "for_next_run.json": 20, "plan.gpkg": 4, "decisions.csv": 12}


@pytest.mark.parametrize("name", READ_BY)
def test_damaged_results_are_used_or_refused(name, tmp_path):
    ends = use_damaged(name, tmp_path, FEW.get(name, 60), SEED)
    assert ends["refused"] > 0, "damage is never noticed"


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.__name__)
def test_many_damaged_files_are_read_or_refused(kind, tmp_path):
    ends = read_damaged(kind, tmp_path, MANY // 3 if kind is beside else MANY)  # six files are read for each
    assert min(ends.values()) > 0, "damage is always noticed, or never"

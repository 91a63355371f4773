"""Nothing is read from the network, nothing in a file is run, no archive does harm, inputs stay untouched."""

import socket
import zipfile

import pytest

from habitat.commands.check.account import check_study
from habitat.layers.formats import archive
from tests.layers import builders as make

VRT = ('<VRTDataset rasterXSize="40" rasterYSize="30"><SRS>EPSG:32617</SRS><GeoTransform>337500, 5, 0, '
       '4418350, 0, -5</GeoTransform>'
       '<VRTRasterBand dataType="Float32" '
       'band="1"{attributes}>{inside}</VRTRasterBand></VRTDataset>')  # fmt: skip
SOURCE = (
    '<SimpleSource><SourceFilename relativeToVRT="{relative}">{name}</SourceFilename>'
    "<SourceBand>1</SourceBand>"
    "</SimpleSource>"
)


@pytest.fixture(autouse=True)
def no_network(monkeypatch):
    def refuse(*_args, **_keys):
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket.socket, "connect", refuse)


def virtual(tmp_path, inside, attributes=""):
    make.yards().to_file(tmp_path / "y.fgb")
    (tmp_path / "ph.vrt").write_text(VRT.format(inside=inside, attributes=attributes), encoding="utf-8")
    return check_study(make.study(tmp_path, {"yards": "y.fgb"}, {"ph": "ph.vrt"}))


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


def test_addresses_in_descriptions_do_no_harm(tmp_path):
    make.raster(tmp_path, make.slope(), "a.tif")
    (tmp_path / "a.tif.aux.xml").write_text(
        '<PAMDataset><Metadata domain="IMD"><MDI key="PUBLISHER">https://example.invalid</MDI></Metadata></PAMDataset>',
        encoding="utf-8",
    )
    told = '<Metadata><MDI key="x">http://example.invalid</MDI></Metadata>'
    assert virtual(tmp_path, told + SOURCE.format(relative=1, name="a.tif"))["error"] is None


def test_links_in_kml_are_not_followed_and_told(tmp_path):
    link = "<NetworkLink><Link><href>http://example.invalid/more.kml</href></Link></NetworkLink><Style id='s'><IconStyle><Icon><href>http://example.invalid/i.png</href></Icon></IconStyle></Style>"
    result = check_study(make.study(tmp_path, {"yards": make.kml(tmp_path, extra=link).name}))
    assert result["error"] is None
    assert len(result["yards"]) == 3
    assert "not followed" in make.notes(result)


@pytest.mark.parametrize(
    "path", ["https://example.invalid/y.geojson", "/vsicurl/http://example.invalid/y.gpkg"]
)
def test_network_paths_in_the_study_are_refused(tmp_path, path):
    result = check_study(make.study(tmp_path, {"yards": path}))
    assert result["exit"] == 2
    assert "never the network" in result["error"]["message"]


def test_json_that_is_a_recipe_is_refused(tmp_path):
    (tmp_path / "y.json").write_text(
        '{"type": "gdal_streamed_alg", "command_line": "gdal vector read http://example.invalid"}',
        encoding="utf-8",
    )
    assert "recipe" in check_study(make.study(tmp_path, {"yards": "y.json"}))["error"]["message"]


def packed(tmp_path, members, name="y.zip"):
    with zipfile.ZipFile(tmp_path / name, "w", zipfile.ZIP_DEFLATED) as out:
        for member, data in members:
            out.writestr(member, data)
    return check_study(make.study(tmp_path, {"yards": name}))


def test_archives_that_climb_out_grow_or_hold_too_much_are_refused(tmp_path, monkeypatch):
    for member in ("../y.geojson", "/etc/y.geojson", "a/../../y.geojson", "C:\\y.geojson", "..\\y.geojson"):
        assert "points out of its own folder" in packed(tmp_path, [(member, "{}")])["error"]["message"]
    link = zipfile.ZipInfo("y.geojson")
    link.external_attr = 0o120777 << 16
    assert "points out of its own folder" in packed(tmp_path, [(link, "/etc/passwd")])["error"]["message"]
    assert "would unpack to" in packed(tmp_path, [("y.geojson", b" " * 90_000_000)])["error"]["message"]
    monkeypatch.setattr(archive, "MAX_FILES", 3)
    assert "holds 4 files" in packed(tmp_path, [(f"{i}.txt", "x") for i in range(4)])["error"]["message"]
    assert "holds no layer" in packed(tmp_path, [("readme.md", "x")])["error"]["message"]
    assert "damaged" in _cut(tmp_path)["error"]["message"] or _cut(tmp_path)["exit"] == 2
    assert sorted(p.name for p in tmp_path.iterdir()) == ["study.toml", "y.zip"]


def _cut(tmp_path):
    packed(tmp_path, [("y.geojson", "{}" * 500)])
    data = (tmp_path / "y.zip").read_bytes()
    (tmp_path / "y.zip").write_bytes(data[: len(data) // 2])
    return check_study(tmp_path / "study.toml")


def test_nothing_is_written_beside_the_inputs(tmp_path):
    make.shapefile(tmp_path)
    (tmp_path / "yards.shx").unlink()
    make.raster(tmp_path, make.slope(), "ph.tif")
    make.yards().to_file(tmp_path / "b.gpkg")
    path = make.study(tmp_path, {"yards": "yards.shp", "paving": "b.gpkg"}, {"ph": "ph.tif"})
    before = {p.name: p.stat().st_mtime_ns for p in tmp_path.iterdir()}
    assert check_study(path)["error"] is None
    assert {p.name: p.stat().st_mtime_ns for p in tmp_path.iterdir()} == before

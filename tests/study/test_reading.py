"""The study file: what is wrong is said with the key, the file and the mend."""

import pytest

from habitat.errors import MissingFileError, SeveralError, StudyError
from habitat.layers.formats.tape import tape_template
from habitat.study.reading import read_study

YARDS = '[layers.yards]\npath = "yards.geojson"\n'


def write(tmp_path, text):
    (tmp_path / "yards.geojson").write_text("{}")
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_only_yards_are_needed(tmp_path):
    study = read_study(write(tmp_path, YARDS))
    assert study.study.cell_m == 1.0
    assert study.planting.effort == "quick"
    assert study.resolve("yards.geojson") == tmp_path / "yards.geojson"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (YARDS + "[planting]\nefort = 'quick'\n", r"planting\.efort.*did you mean 'effort'"),
        (YARDS + "[plantin]\n", r"'plantin'.*did you mean 'planting'"),
        (YARDS + "columns = {yard_id = 3}\n", r"layers\.yards\.columns\.yard_id"),
        (YARDS + "pth = 'x'\n", r"layers\.yards\.pth.*did you mean 'path'"),
        (YARDS + "[layers.yard]\npath='x'\n", r"unknown layer 'yard'; did you mean 'yards'"),
        (YARDS + "[rasters.Ph]\npath='x'\n", r"unknown raster 'Ph'; did you mean 'ph'"),
        (YARDS + "[planting]\nbudget = -1\n", r"planting\.budget.*0 or more.*-1"),
        (YARDS + "[study]\nseason = [10, 4]\n", r"season must run from an earlier to a later month"),
        (YARDS + "[study]\nseason = [0, 13]\n", r"season\.0: it must be 1 or more.*1: it must be 12 or less"),
        (YARDS + "[study]\nseason = [4]\n", r"study\.season: it holds too few values"),
        (YARDS + "[study]\ncell_m = 'one'\n", r"study\.cell_m: it must be a number"),
        (YARDS + "[study]\ndate = 'soon'\n", r"study\.date: it must be a date such as 2026-03-01"),
        (YARDS + "[study]\ncrs = 32617\n", r"study\.crs: it must be text in quotes"),
        (YARDS + "[rasters.ph]\npath = 'x'\nband = 'two'\n", r"rasters\.ph\.band: it must be a whole number"),
        (YARDS + "[report]\nunits = 'yards'\n", r"report\.units: it must be 'metric' or 'us'"),
        ("[[layers.yards]]\npath = 'x'\n", r"layers\.yards: it must be a table of its own"),
        ('[layers.yards]\npath = "data\\maps"\n', r"in paths write / for"),
        (YARDS + "[study]\ncrs = 'EPSG:4326'\n", r"must be projected, in metres"),
        (YARDS + "[study]\ncrs = 'EPSG:3735'\n", r"must be projected, in metres"),
        (YARDS + "[study]\ncrs = 'EPSG:3857'\n", r"Web Mercator stretches lengths"),
        (YARDS + "[study]\ncrs = 'nonsense'\n", r"not a coordinate reference system"),
        ("[study]\nname = 'x'\n", r"'layers' is missing"),
        ("[layers.trees]\npath='x'\n", r"no \[layers\.yards\]"),
        ("[layers.yards\n", r"not a valid TOML file"),
        ("[layers.yards]\npath = 'https://example.invalid/x.gpkg'\n", r"never the network"),
        ("[layers.yards]\npath = '/vsicurl/x.gpkg'\n", r"never the network"),
    ],
)
def test_faults_name_the_key_and_the_mend(tmp_path, text, says):
    with pytest.raises(StudyError, match=says) as caught:
        read_study(write(tmp_path, text))
    assert "study.toml" in str(caught.value)


def test_all_faults_are_told_at_once(tmp_path):
    text = YARDS + "[planting]\nbudget = -1\nefort = 'q'\n[report]\nunits = 'furlongs'\n"
    with pytest.raises(StudyError) as caught:
        read_study(write(tmp_path, text))
    for key in ("planting.budget", "planting.efort", "report.units"):
        assert key in str(caught.value)


def test_missing_files_are_named_with_the_nearest(tmp_path):
    path = write(tmp_path, "[layers.yards]\npath = 'yard.geojson'\n")
    with pytest.raises(
        MissingFileError, match=r"layers\.yards.*'yard\.geojson'.*did you mean 'yards\.geojson'"
    ):
        read_study(path)
    with pytest.raises(MissingFileError, match="no such study file"):
        read_study(tmp_path / "nothing.toml")


def test_missing_files_are_told_together(tmp_path):
    path = write(tmp_path, YARDS + "[layers.plants]\npath='a.csv'\n[rasters.ph]\npath='data\\\\ph.tif'\n")
    path.write_text(path.read_text("utf-8") + "[layers.trees]\npath = ''\n", encoding="utf-8")
    with pytest.raises(SeveralError) as caught:
        read_study(path)
    assert caught.value.kind == "missing-file"
    with pytest.raises(MissingFileError, match=r"names 'data\\new'.*In paths write / for"):
        read_study(write(tmp_path, '[layers.yards]\npath = "data\\new"\n'))
    for words in ("'a.csv'", "In paths write / for", "layers.trees.path is empty"):
        assert words in str(caught.value)


@pytest.mark.parametrize("codec", ["utf-16", "latin-1"])
def test_a_study_file_in_another_encoding_is_told_so(tmp_path, codec):
    path = tmp_path / "study.toml"
    path.write_bytes(("[study]\nname = 'Größe'\n" + YARDS).encode(codec))
    with pytest.raises(StudyError, match="not a text file in UTF-8"):
        read_study(path)


def test_changed_is_checked_again(tmp_path):
    study = read_study(write(tmp_path, YARDS))
    assert study.changed(report={"units": "us"}).report.units == "us"
    with pytest.raises(StudyError, match=r"report\.units"):
        study.changed(report={"units": "leagues"})


@pytest.mark.parametrize(
    ("name", "part"), [("parcels.gpkg", "layers"), ("Signup.XLSX", "layers"), ("dem.tif", "rasters")]
)
def test_a_layer_in_place_of_the_study_file_is_told_what_to_do(tmp_path, name, part):
    (tmp_path / name).write_bytes(b"\x00\xff")
    with pytest.raises(StudyError, match=rf"not a study file .*'habitat new FOLDER'.*under \[{part}\]"):
        read_study(tmp_path / name)


def test_only_a_table_of_a_drawn_yard_is_a_study_by_itself(tmp_path):
    (tmp_path / "tape.csv").write_text(tape_template(), encoding="utf-8")
    study = read_study(tmp_path / "tape.csv")
    assert (study.study.name, list(study.layers), study.folder) == ("tape", ["yards"], tmp_path)
    (tmp_path / "people.csv").write_text("what,point,along\nyard,A,3\n", encoding="utf-8")
    with pytest.raises(StudyError, match="not a study file"):
        read_study(tmp_path / "people.csv")

"""Shapefiles: missing parts, rings wound the wrong way, long numbers, rows marked as deleted."""

import shutil

import pytest

from habitat.commands.check.account import check_study
from tests.layers import builders as make


def test_missing_index_is_made_elsewhere_and_missing_table_is_told(tmp_path):
    make.shapefile(tmp_path)
    (tmp_path / "yards.shx").unlink()
    before = sorted(p.name for p in tmp_path.iterdir())
    result = check_study(make.study(tmp_path, {"yards": "yards.shp"}))
    assert make.areas(result) == pytest.approx(make.EXPECTED)
    assert ".shx" in make.notes(result)
    assert sorted(p.name for p in tmp_path.iterdir() if p.name != "study.toml") == before
    (tmp_path / "yards.dbf").unlink()
    result = check_study(make.study(tmp_path, {"yards": "yards.shp"}))
    assert list(make.areas(result)) == ["1", "2", "3"]
    assert ".dbf" in make.notes(result)


def test_table_and_shapes_of_different_length_are_refused(tmp_path):
    make.shapefile(tmp_path)
    (tmp_path / "o").mkdir()
    make.shapefile(tmp_path / "o", make.yards().iloc[:2])
    shutil.copy(tmp_path / "o" / "yards.dbf", tmp_path / "yards.dbf")
    result = check_study(make.study(tmp_path, {"yards": "yards.shp"}))
    assert result["exit"] == 2
    assert "2 rows but there are 3 shapes" in result["error"]["message"]


def ring(west, south, east, north, clockwise=True):
    points = [(west, south), (west, north), (east, north), (east, south), (west, south)]
    return points if clockwise else points[::-1]


def test_shapefile_rings_wound_the_wrong_way_keep_their_holes(tmp_path):
    """The format tells holes by their winding; 30 x 40 m less 10 x 10 m is 1,100 m2 however it is wound."""
    for outer, hole in ((True, False), (True, True), (False, True), (False, False)):
        make.raw_shapefile(tmp_path, [[ring(0, 0, 30, 40, outer), ring(5, 5, 15, 15, hole)]], ["A"])
        assert make.areas(check_study(make.study(tmp_path, {"yards": "yards.shp"}))) == pytest.approx(
            {"A": 1100}
        )
    make.raw_shapefile(tmp_path, [[ring(0, 0, 30, 40), ring(50, 5, 60, 15)]], ["A"])
    assert make.areas(check_study(make.study(tmp_path, {"yards": "yards.shp"}))) == pytest.approx({"A": 1300})


def test_long_whole_numbers_keep_every_digit_in_shapefiles(tmp_path):
    ids = [12345678901234561, 12345678901234562, 12345678901234563]
    rings = [[ring(20 * i, 0, 20 * i + 10, 10)] for i in range(3)]
    make.raw_shapefile(tmp_path, rings, ids, width=19, kind="N")
    result = check_study(make.study(tmp_path, {"yards": "yards.shp"}))
    assert list(make.areas(result)) == [str(i) for i in ids]
    assert "digits" not in make.notes(result)


def test_rows_marked_as_deleted_are_told(tmp_path):
    """dBase marks a deleted row by an asterisk in its first byte; the file keeps it until it is packed."""
    make.shapefile(tmp_path)
    table = bytearray((tmp_path / "yards.dbf").read_bytes())
    start, width = int.from_bytes(table[8:10], "little"), int.from_bytes(table[10:12], "little")
    table[start + 2 * width] = ord("*")
    (tmp_path / "yards.dbf").write_bytes(table)
    result = check_study(make.study(tmp_path, {"yards": "yards.shp"}))
    assert list(make.areas(result)) == ["TB-01", "TB-02"]
    assert "1 row(s) are marked as deleted" in make.notes(result)

"""The object of a check: complete, plain, and of one accord with the layers."""

import json

import pytest

from habitat.commands.check.account import check_study
from tests.layers import builders as make

KEYS = {"exit", "error", "crs", "layers", "yards", "ground_area_m2", "plants", "tables", "rasters"}


def test_the_object_has_the_agreed_keys_and_is_json(messy):
    result = check_study(messy)
    assert set(result) >= KEYS
    assert json.loads(json.dumps(result, allow_nan=False)) == result
    for layer in result["layers"].values():
        assert layer["used"] + layer["repaired"] + layer["set_aside"] == layer["rows_in"]
        assert {"crs", "encoding", "notes", "rows"} <= set(layer)
        assert all({"row", "what"} <= set(n) for n in layer["notes"])
        assert len(layer["rows"]) == layer["used"] + layer["repaired"]
    assert result["exit"] == 1
    assert result["error"] is None
    assert result["crs"] == "EPSG:32617"
    assert {"yard_id", "area_m2", "overlap_m2"} <= set(result["yards"][0])
    assert {"row", "plant", "count", "yard_id", "lon", "lat"} <= set(result["plants"][0])
    assert {"yard_id", "mean", "known_share"} <= set(result["rasters"]["ph"]["yards"][0])
    areas = sum(y["area_m2"] for y in result["yards"])
    assert areas - result["ground_area_m2"] == pytest.approx(result["overlap_m2"]) == pytest.approx(100 + 20)


def test_errors_go_into_the_object(tmp_path):
    for path in (tmp_path / "none.toml", make.study(tmp_path, {"yards": "none.gpkg"})):
        result = check_study(path)
        assert result["exit"] == 2
        assert set(result["error"]) == {"kind", "message"}
        assert set(result) >= KEYS


def test_progress_is_told_and_ends(messy):
    seen = []
    check_study(messy, lambda words, done, total: seen.append((words, done, total)))
    assert seen[-1][1] == seen[-1][2]
    assert [d for _, d, _ in seen] == sorted(d for _, d, _ in seen)

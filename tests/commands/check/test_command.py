"""What habitat check prints."""

import json

import geopandas as gpd

from tests.commands.calls import call
from tests.layers import builders as make


def test_check_and_why_tell_areas_in_the_units_of_the_study(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    gpd.GeoDataFrame(geometry=[make.box(2, 2, 12, 12)], crs=make.CRS).to_file(tmp_path / "b.gpkg")
    path = make.study(tmp_path, {"yards": "y.gpkg", "buildings": "b.gpkg"})
    with path.open("a", encoding="utf-8") as file:
        file.write('[report]\nunits = "us"\n')
    told = " ".join(call("check", str(path)).split("smallest, median")[1].split())
    assert "5,400 square feet, 9,700 square feet, 13,000 square feet" in told  # 500, 900 and 1,200 m2
    said = call("why", str(path), "--yard", "TB-01", "--plant", "Asclepias syriaca", "--quiet")
    assert " sq ft" in said
    assert " m2" not in said


def test_check_prints_one_object(study):
    result = json.loads(call("check", study, "--json"))
    assert result["exit"] == 0
    assert result["error"] is None
    assert result["layers"]["yards"]["rows_in"] == 407
    assert len(result["yards"]) == 407
    assert {"ph", "sand_pct", "clay_pct", "drainage"} <= set(result["rasters"])


def test_check_prints_an_object_for_an_error_too(tmp_path):
    (tmp_path / "study.toml").write_text('[layers.yards]\npath = "none.gpkg"\n', encoding="utf-8")
    result = json.loads(call("check", str(tmp_path), "--json", code=2))
    assert result["exit"] == 2
    assert "none.gpkg" in result["error"]["message"]

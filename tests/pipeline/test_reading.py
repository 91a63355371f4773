"""One layer that cannot be read hides nothing of the others: all errors and findings are told together."""

import json

import numpy as np
import pytest
from typer.testing import CliRunner

from habitat.commands.app import app
from habitat.commands.check.account import check_study
from habitat.commands.check.words import word_notes
from habitat.errors import SeveralError
from habitat.pipeline.reading import read_layers
from habitat.study.reading import open_study, read_study
from tests.layers import builders as make


def damaged(folder):
    (folder / "bad.gpkg").write_bytes(b"SQLite format 3\0" + b"x" * 300)
    return {"trees": "bad.gpkg"}, {}


def missing(_folder):
    return {"fences": "gone.gpkg"}, {"salt": "gone.tif"}


def wrong_columns(folder):
    (folder / "soil.csv").write_text("yard_id,colour\nTB-01,brown\n", encoding="utf-8")
    return {"soil_tests": "soil.csv"}, {}


def elsewhere(folder):
    (folder / "seen.csv").write_text("butterfly,lat,lon\nmonarch,10,10\nmonarch,10,11\n", encoding="utf-8")
    return {"sightings": "seen.csv"}, {}


def impossible_values(folder):
    make.raster(folder, np.full((30, 40), 60.0), "ph.tif")
    return {}, {"ph": "ph.tif"}


def no_crs(folder):
    (folder / "walls.csv").write_text("x,y\n337500,4418200\n", encoding="utf-8")
    return {"buildings": "walls.csv"}, {}


BAD = {
    damaged: ["layers.trees"],
    missing: ["layers.fences", "rasters.salt"],
    wrong_columns: ["layers.soil_tests"],
    elsewhere: ["layers.sightings"],
    impossible_values: ["rasters.ph"],
    no_crs: ["layers.buildings"],
}


def street(folder, *bad):
    """Write a street of three yards and four plants, and beside it layers that cannot be read."""
    make.yards().to_file(folder / "y.gpkg")
    (folder / "p.csv").write_text(make.plants_text() + "P9,Zizia aurea,0,0,1\n", encoding="utf-8")
    layers, rasters = {"yards": "y.gpkg", "plants": "p.csv"}, {}
    for write in bad:
        more, grids = write(folder)
        layers |= more
        rasters |= grids
    return make.study(folder, layers, rasters)


@pytest.mark.parametrize(
    "bad", [*([b] for b in BAD), list(BAD)], ids=lambda b: "+".join(f.__name__ for f in b)
)
def test_findings_of_the_other_layers_are_told_beside_the_errors(tmp_path, bad):
    result = check_study(street(tmp_path, *bad), None, word_notes)
    parts = [part for write in bad for part in BAD[write]]
    assert result["exit"] == 2
    assert sorted(e["part"] for e in result["errors"]) == sorted(parts)
    for error in result["errors"]:
        assert error["message"] in result["error"]["message"].replace("\n    ", "\n")
    assert make.areas(result) == pytest.approx({"TB-01": 1200, "TB-02": 900, "TB-03": 500})
    assert (result["layers"]["plants"]["rows_in"], result["layers"]["plants"]["set_aside"]) == (5, 1)
    assert "P9: set aside" in make.notes(result, "plants")
    assert not {p.split(".")[1] for p in parts if p.startswith("layers")} & set(result["layers"])
    json.dumps(result, allow_nan=False)


def test_without_yards_the_rest_is_looked_at_by_itself(tmp_path):
    path = street(tmp_path, impossible_values)
    (tmp_path / "y.gpkg").write_bytes(b"SQLite format 3\0" + b"x" * 300)
    make.raster(tmp_path, make.slope(), "ph.tif")
    result = check_study(path, None, word_notes)
    assert [e["part"] for e in result["errors"]] == ["layers.yards"]
    assert (result["exit"], result["yards"], result["crs"]) == (2, [], None)
    plants = result["layers"]["plants"]
    assert (plants["rows_in"], plants["used"], plants["set_aside"]) == (5, 4, 1)
    assert plants["rows"][0]["lat"] == pytest.approx(make.degrees(8, 0)[1], abs=1e-3)
    assert result["rasters"]["ph"]["cell_m"] == pytest.approx(5.0)
    assert "joined to no yard" in result["notes"][0]["what"]


def test_own_tables_with_faults_hide_no_findings(tmp_path):
    path = street(tmp_path)
    (tmp_path / "own.csv").write_text("scientific_name,size\nAster novus,9\n", encoding="utf-8")
    path.write_text(path.read_text("utf-8") + '[knowledge]\nplants = "own.csv"\n', encoding="utf-8")
    result = check_study(path, None, word_notes)
    assert (result["exit"], result["error"]["kind"]) == (2, "knowledge")
    assert len(result["yards"]) == 3
    assert len(result["plants"]) == 4


def test_a_run_tells_all_errors_at_once(tmp_path):
    path = street(tmp_path, damaged, impossible_values)
    with pytest.raises(SeveralError) as caught:
        read_layers(read_study(path))
    assert "bad.gpkg" in str(caught.value)
    assert "ph.tif" in str(caught.value)
    study, faults = open_study(street(tmp_path, missing))
    assert (sorted(faults), study.study.name) == (["layers.fences", "rasters.salt"], "Tallow Bend")


def test_tables_and_map_are_shown_beside_the_errors(tmp_path):
    path, picture = street(tmp_path, damaged, missing), tmp_path / "map.png"
    done = CliRunner().invoke(app, ["check", str(path), "--map", str(picture)])
    assert done.exit_code == 2
    assert picture.stat().st_size > 10_000
    for words in ("Layers: rows in", "yards", "plants", "P9: set aside", "3 things are wrong", "bad.gpkg"):
        assert words in done.output

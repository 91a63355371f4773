"""The commands that look up, explain, start and check: words for people, JSON for programs, exit codes."""

import json
import re
import tomllib
from pathlib import Path
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from pyproj import CRS
from shapely import Polygon, box
from typer.testing import CliRunner

from habitat.commands.app import app
from habitat.commands.run.job import _left_open
from habitat.commands.why.answer import _where
from habitat.commands.why.place import YardPlace
from habitat.errors import HabitatError
from habitat.grid import Grid
from habitat.site.types import SiteWindow
from habitat.suitability.explain import best_place, class_areas
from habitat.suitability.fit import Scores
from tests.layers import builders as make
from tests.support.prague import write_study


def call(*arguments, code=0):
    result = CliRunner().invoke(app, list(arguments))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == code, result.output
    return result.output


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return str(write_study(tmp_path_factory.mktemp("cli"), planned=6))


@pytest.fixture(scope="module")
def roomy(study):
    """A parcel with room to plant: the first of the participants."""
    return (Path(study).parent / "participants.csv").read_text(encoding="utf-8").splitlines()[1].split(",")[0]


def test_plants_by_eater_are_the_hosts():
    rows = json.loads(call("plants", "--eaten-by", "monarch", "--json"))["rows"]
    assert {"Asclepias incarnata", "Asclepias syriaca", "Asclepias tuberosa"} <= {r["plant"] for r in rows}
    assert all(r["plant"].startswith("Asclepias") for r in rows)


def test_plants_in_shade_and_bloom():
    rows = json.loads(call("plants", "--shade", "--bloom", "5", "--json"))["rows"]
    assert rows
    assert len(rows) < len(json.loads(call("plants", "--json"))["rows"])


def test_one_plant_tells_what_is_published_and_what_is_memory():
    rows = json.loads(call("plants", "swamp milkweed", "--json"))["rows"]
    sources = {r["field"]: r["source"] for r in rows}
    assert "memory" in " ".join(sources.values())
    assert any("NRCS" in s for s in sources.values())


def test_looking_up_tells_own_rows_that_were_set_aside(tmp_path):
    path = write_study(tmp_path, planned=6)
    (tmp_path / "own.csv").write_text(
        "scientific_name,height_m,region\nAsclepias incarnata,1.3,elsewhere\n", encoding="utf-8"
    )
    path.write_text(
        path.read_text(encoding="utf-8") + '\n[knowledge]\nplants = "own.csv"\n', encoding="utf-8"
    )
    result = CliRunner().invoke(app, ["plants", "common milkweed", "--study", str(path)])
    assert result.exit_code == 0
    assert "own.csv: 1 row set aside, for region 'elsewhere'" in result.stderr
    assert "set aside" not in result.stdout


def test_butterflies_for_a_plant():
    rows = json.loads(call("butterflies", "--for", "spicebush", "--json"))["rows"]
    assert "Papilio troilus" in {r["butterfly"] for r in rows}


def test_a_misspelt_name_is_never_guessed():
    with pytest.raises(HabitatError, match=r"[Dd]id you mean") as caught:
        call("plants", "swamp milkwed")
    assert str(caught.value).count("did you mean") == str(caught.value).lower().count("did you mean") == 1
    assert "did you mean Asclepias incarnata (swamp milkweed)? " in str(caught.value)


@pytest.mark.parametrize(
    ("said", "genus"), [("violets", "Viola"), ("oak", "Quercus"), ("milkwed", "Asclepias")]
)
def test_a_common_word_leads_to_the_kinds_that_carry_it(said, genus):
    with pytest.raises(HabitatError, match=f"of the kind .*, they hold {genus} .*write which"):
        call("plants", said)


def test_why_says_needs_closed_ground_and_alternatives(study, roomy):
    result = json.loads(call("why", study, "--yard", roomy, "--plant", "swamp milkweed", "--json", "--quiet"))
    assert {n["need"] for n in result["needs"]} >= {"sun", "soil pH", "drainage", "soil texture"}
    assert 0 <= result["best_fit"] <= 1
    assert result["class"] in {"S1", "S2", "S3", "N", ""}
    assert all(a["plant"].startswith("Asclepias") for a in result["alternatives"])
    assert "winter cold" in result["not_assessed"]
    text = call("why", study, "--yard", roomy, "--plant", "swamp milkweed", "--quiet")
    assert "Swamp milkweed" in text
    assert f" {result['needs'][0]['score']:.2f}" in text
    assert "██" in text
    assert "unknown" not in next(line for line in text.splitlines() if "winter cold" in line)
    assert "It fits best" in text
    assert sum(result["areas_m2"].values()) > 0
    assert result["instead"] in text
    assert not {"True", "False"} & set(text.split())


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


@pytest.mark.parametrize(
    ("row", "col", "words"),
    [
        (1, 18, "about 12 m north-east of the yard's middle"),
        (18, 10, "about 9 m south of the yard's middle"),
        (10, 10, "in the yard's middle"),
    ],
)
def test_why_says_where_a_plant_fits_best(row, col, words):
    """A yard of 20 x 20 m in cells of 1 m: one cell of fit 1, the rest 0.6 (moderately suitable)."""
    grid = Grid.from_bounds((0, 0, 20, 20), 1.0, CRS.from_epsg(32617))
    low = np.full(grid.shape, 0.6)
    low[row, col] = 1.0
    open_cells = np.ones(grid.shape, bool)
    yard, found = box(0, 0, 20, 20), Scores(low, low, np.zeros(low.shape, np.uint8))
    place = YardPlace(
        pd.Series({"geometry": yard}), SiteWindow(grid, {}), {"herb": yard}, Polygon(), pd.DataFrame(), {}
    )
    areas = class_areas(found, open_cells, 1.0, (0.75, 0.5, 0.25))
    told = _where(best_place(low, open_cells), found, open_cells, place, areas)
    assert words in told
    assert "as well on 1 m2 in all" in told
    assert "1 m2 highly suitable, 399 m2 moderately suitable." in told


def test_why_names_an_unknown_yard_and_plant(study):
    with pytest.raises(HabitatError, match="no yard 'nowhere'"):
        call("why", study, "--yard", "nowhere", "--plant", "swamp milkweed", "--quiet")
    with pytest.raises(HabitatError, match="is not in the tables"):
        call("why", study, "--yard", "P200", "--plant", "zzz", "--quiet")


def test_check_prints_one_object(study):
    result = json.loads(call("check", study, "--json"))
    assert result["exit"] == 0
    assert result["error"] is None
    assert result["layers"]["yards"]["rows_in"] == 407
    assert len(result["yards"]) == 407
    assert {"ph", "sand_pct", "clay_pct", "drainage"} <= set(result["rasters"])


def test_yards_far_from_the_tables_region_are_warned_of(tmp_path):
    make.yards().to_crs(4326).translate(96.0, 10.0).to_frame("geometry").assign(
        yard_id=["a", "b", "c"]
    ).to_file(tmp_path / "y.gpkg")
    study = make.study(tmp_path, {"yards": "y.gpkg"})
    notes = json.loads(call("check", str(study), "--json"))["notes"]
    assert [n["harm"] for n in notes if "lie outside the Ohio Valley" in n["what"]] == [3]
    why = call("why", str(study), "--yard", "a", "--plant", "swamp milkweed")
    assert "lie outside the Ohio Valley" in " ".join(why.split())


def test_check_prints_an_object_for_an_error_too(tmp_path):
    (tmp_path / "study.toml").write_text('[layers.yards]\npath = "none.gpkg"\n', encoding="utf-8")
    result = json.loads(call("check", str(tmp_path), "--json", code=2))
    assert result["exit"] == 2
    assert "none.gpkg" in result["error"]["message"]


def test_new_makes_a_folder_that_reads(tmp_path):
    folder = tmp_path / "street"
    call("new", str(folder))
    assert (folder / "study.toml").is_file()
    assert (folder / "participants.csv").is_file()
    with pytest.raises(HabitatError, match="not empty"):
        call("new", str(folder))
    result = json.loads(call("check", str(folder), "--json", code=2))
    assert "yards.gpkg" in result["error"]["message"]


@pytest.mark.parametrize("kind", [(), ("--yard",)])
def test_a_new_folder_names_its_own_files(tmp_path, kind):
    """Whatever READ_ME.txt and the study file name is there, and every table can be switched on as it is."""
    folder = tmp_path / "made"
    call("new", str(folder), *kind, "--quiet")
    words = (folder / "READ_ME.txt").read_text(encoding="utf-8")
    tables = set(re.findall(r"\b[a-z_]+\.csv\b", words))
    assert {name for name in tables if not (folder / name).is_file()} == set()
    text = (folder / "study.toml").read_text(encoding="utf-8")
    there = {p.stem for p in folder.glob("*.csv")} - {"tape"}
    for layer in there:
        assert f"[layers.{layer}]" in text
        assert f'path = "{layer}.csv"' in text
    switched = re.sub(r"(?m)^# (\[layers\..*)\n((?:#  .*\n)*)# (path = .*)$", r"\1\n\2\3", text)
    assert there < set(tomllib.loads(switched)["layers"])


def test_a_missing_file_names_those_that_are_there(tmp_path):
    (tmp_path / "study.toml").write_text('[layers.yards]\npath = "yards.gpkg"\n', encoding="utf-8")
    (tmp_path / "Parcels_2026.zip").write_bytes(b"")
    error = json.loads(call("check", str(tmp_path), "--json", code=2))["error"]
    assert "Parcels_2026.zip" in error["message"]


def test_check_tells_names_and_words_that_no_table_knows(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    lon, lat = make.degrees(5, 8)
    (tmp_path / "p.csv").write_text(f"plant,lat,lon\nMilkwed,{lat},{lon}\n", encoding="utf-8")
    (tmp_path / "s.csv").write_text("yard_id,drainage\nTB-01,puddles stand\n", encoding="utf-8")
    path = make.study(tmp_path, {"yards": "y.gpkg", "plants": "p.csv", "soil_tests": "s.csv"})
    result = json.loads(call("check", str(path), "--json"))
    assert "'Milkwed' is not in the tables" in make.notes(result, "plants")
    assert "well drained" in make.notes(result, "soil_tests")
    assert "Milkwed" in call("check", str(path))


def test_a_run_tells_empty_yards_and_plants_of_no_known_name():
    plan = SimpleNamespace(
        headline={"counts": {"yards_planned": 3}},
        plantings=pd.DataFrame({"yard_id": ["a", "a"]}),
        existing_plants=pd.DataFrame(
            {"plant": [None, "Zizia aurea", None], "name_given": ["fern", "zizia", ""]}
        ),
    )
    empty, unknown = _left_open(plan)
    assert empty.startswith("2 of 3 yards")
    assert unknown.startswith("1 of 3 plants")
    assert "fern" in unknown


def test_until_a_stage_writes_nothing(study, tmp_path):
    text = call("run", study, "--out", str(tmp_path / "x"), "--until", "site", "--workers", "1")
    assert "407 yards" in text
    assert not (tmp_path / "x").exists()
    with pytest.raises(HabitatError, match="--until"):
        call("run", study, "--out", str(tmp_path / "x"), "--until", "lunch")


@pytest.fixture(scope="module")
def folders(study, tmp_path_factory):
    """Two runs of one study, with one process and with two."""
    made = [tmp_path_factory.mktemp("runs") / name for name in ("one", "two")]
    for folder, workers in zip(made, ("1", "2"), strict=True):
        call("run", study, "--out", str(folder), "--workers", workers, "--quiet")
    return made


def test_any_number_of_workers_gives_equal_bytes(folders):
    files = sorted(p.relative_to(folders[0]) for p in folders[0].rglob("*") if p.is_file())
    assert files == sorted(p.relative_to(folders[1]) for p in folders[1].rglob("*") if p.is_file())
    files = [f for f in files if f.name != "timings.json"]
    assert [str(f) for f in files if (folders[0] / f).read_bytes() != (folders[1] / f).read_bytes()] == []


def test_compare_two_runs(folders, tmp_path):
    text = call("compare", *map(str, folders), "--page", str(tmp_path / "changes.html"))
    assert text.strip()
    assert (tmp_path / "changes.html").stat().st_size > 0

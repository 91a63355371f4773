"""What goes wrong with a study's files ends in exit code 2 or 1, one clear text, and nothing left behind."""

import json
import sys

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from affine import Affine
from scipy.stats import norm
from shapely.geometry import box
from typer.testing import CliRunner

from habitat.commands.app import app
from habitat.errors import HabitatError
from habitat.knowledge import load_knowledge
from habitat.settings.knowledge import KnowledgeSettings

WEST, SOUTH = 337_500.0, 4_418_200.0
HEAD = '[study]\nname = "x"\ndate = 2026-03-01\n'
RUN = ["run", "study.toml", "--out", "plan", "--quiet", "--workers", "1"]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    boxes = [box(WEST + 30 * i, SOUTH, WEST + 30 * i + 25, SOUTH + 40) for i in range(3)]
    frame = gpd.GeoDataFrame({"yard_id": ["a", "b", "c"]}, geometry=boxes, crs=32617)
    frame.to_file(tmp_path / "yards.gpkg")
    houses = gpd.GeoDataFrame(
        {"height_m": [6.0] * 3}, geometry=[g.centroid.buffer(5, cap_style="square") for g in boxes], crs=32617
    )
    houses.to_file(tmp_path / "houses.gpkg")
    return tmp_path


def study(folder, text):
    (folder / "study.toml").write_text(HEAD + text, encoding="utf-8")


def raster(path, values, west=WEST - 50, north=SOUTH + 100, **profile):
    values = np.asarray(values, "float32")
    with rasterio.open(
        path, "w", driver="GTiff", height=values.shape[0], width=values.shape[1], count=1, dtype="float32",
        crs="EPSG:32617", transform=Affine(10, 0, west, 0, -10, north), **profile,
    ) as out:  # fmt: skip
        out.write(values, 1)


def call(*arguments):
    """Call the command; return (exit code, the text that a person sees)."""
    result = CliRunner().invoke(app, list(arguments))
    if isinstance(result.exception, HabitatError):
        return 2, str(result.exception)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.output


def refused(folder, *mentions):
    code, text = call(*RUN)
    assert code == 2, text
    for word in mentions:
        assert word.lower() in text.lower(), text
    left = {p.name for p in folder.iterdir()} - {"yards.gpkg", "houses.gpkg", "study.toml"}
    assert not {n for n in left if "plan" in n}, left


YARDS = '[layers.yards]\npath = "yards.gpkg"\n'


def test_missing_layer_file(folder):
    study(folder, YARDS + '[layers.trees]\npath = "tree.gpkg"\n')
    refused(folder, "layers.trees", "tree.gpkg")


def test_layer_without_crs(folder):
    frame = gpd.read_file(folder / "yards.gpkg")
    frame.set_crs(None, allow_override=True).to_file(folder / "bare.gpkg")
    study(folder, '[layers.yards]\npath = "bare.gpkg"\n')
    refused(folder, "yards", "crs")


def test_empty_layer(folder):
    gpd.read_file(folder / "yards.gpkg").iloc[:0].to_file(folder / "none.gpkg")
    study(folder, '[layers.yards]\npath = "none.gpkg"\n')
    refused(folder, "yards")


def test_no_date(folder):
    (folder / "study.toml").write_text(YARDS, encoding="utf-8")
    refused(folder, "study.date")


def test_broken_range_in_an_own_plant_table(folder):
    (folder / "own.csv").write_text(
        "scientific_name,ph_min,ph_opt_low,ph_opt_high,ph_max\nAsclepias incarnata,7.0,6.0,6.5,5.0\n",
        encoding="utf-8",
    )
    study(folder, YARDS + '[knowledge]\nplants = "own.csv"\n')
    refused(folder, "own.csv", "Asclepias incarnata", "ph")


def test_unknown_wish(folder):
    study(folder, YARDS + '[planting]\nwishes = ["monark"]\n')
    refused(folder, "monark", "did you mean")


def test_yards_outside_a_raster_are_told_or_refused(folder):
    raster(folder / "ph.tif", np.full((5, 5), 6.5), west=WEST + 50_000)
    study(folder, YARDS + '[rasters.ph]\npath = "ph.tif"\n')
    code, text = call(*RUN)
    assert code in (0, 1, 2)
    if code == 2:
        assert "ph" in text
        assert not (folder / "plan").exists()
    else:
        assert gpd.read_file(folder / "plan" / "plan.gpkg", layer="yards")["ph_mean"].isna().all()


def test_raster_of_nothing_but_nodata_stays_unknown_or_is_refused(folder):
    raster(folder / "ph.tif", np.full((20, 20), -9999.0), nodata=-9999.0)
    study(folder, YARDS + '[rasters.ph]\npath = "ph.tif"\n')
    code, text = call(*RUN)
    assert code in (0, 1, 2)
    if code == 2:
        assert "ph" in text
        assert not (folder / "plan").exists()
    else:
        assert gpd.read_file(folder / "plan" / "plan.gpkg", layer="yards")["ph_mean"].isna().all()


def test_yards_alone_give_advice_but_place_nothing(folder):
    study(folder, YARDS)
    code, text = call(*RUN)
    assert code == 0, text
    assert len(gpd.read_file(folder / "plan" / "plan.gpkg", layer="beds")) == 0


def test_unknown_yard(folder):
    study(folder, YARDS)
    code, text = call(*RUN, "--yard", "z")
    assert code == 2
    assert "'z'" in text
    assert not (folder / "plan").exists()


@pytest.mark.parametrize(
    ("section", "key", "value", "near"),
    [
        ("suitability", "rasters", '["swamp milkwed"]', "did you mean swamp milkweed?"),
        ("connectivity", "butterflies", '["monarck"]', "did you mean monarch?"),
        ("connectivity", "weights", "{ monarck = 2.0 }", "did you mean monarch?"),
    ],
)
def test_names_that_only_late_stages_ask_for_are_refused_before_the_survey(
    folder, monkeypatch, section, key, value, near
):
    def too_late(*_):
        raise AssertionError("the survey was started")

    monkeypatch.setattr(sys.modules["habitat.pipeline.run"], "survey", too_late)
    study(folder, YARDS + f"[{section}]\n{key} = {value}\n")
    refused(folder, f"{section}.{key}", near)


def test_why_says_how_sure_a_class_is_given_the_maps_errors(folder):
    """Against the closed form for one need with normal error; what no chance knows of is told."""
    raster(folder / "ph.tif", np.full((20, 20), 7.0))
    raster(folder / "sand.tif", np.full((20, 20), 40.0))
    maps = '[rasters.ph]\npath = "ph.tif"\nerror = 0.4\n[rasters.sand_pct]\npath = "sand.tif"\nerror = 5\n'
    study(folder, YARDS + '[layers.buildings]\npath = "houses.gpkg"\n' + maps)
    ask = ["why", "study.toml", "--yard", "a", "--plant", "Asclepias tuberosa", "--quiet"]
    code, text = call(*ask, "--json")
    assert code == 0, text
    answer = json.loads(text)
    plants = load_knowledge(KnowledgeSettings()).plants
    low, high = (
        plants.loc["Asclepias tuberosa", [f"ph_{a}", f"ph_{b}"]]
        for a, b in (("min", "opt_low"), ("max", "opt_high"))
    )
    score = min(1.0, float((high.iloc[0] - 7.0) / (high.iloc[0] - high.iloc[1])))
    least = next(limit for limit in (0.75, 0.5, 0.25) if score >= limit)
    ends = [float(end.iloc[0] + least * (end.iloc[1] - end.iloc[0])) for end in (low, high)]
    expected = norm.cdf((ends[1] - 7.0) / 0.4) - norm.cdf((ends[0] - 7.0) / 0.4)
    assert answer["chance"] == pytest.approx(expected, abs=0.05)
    assert "raster sand_pct" in answer["sure"][-1]
    assert "count as exact" in answer["sure"][-1]
    assert "How sure?" in call(*ask)[1]


def test_an_error_of_a_raster_is_a_number_or_a_table(folder):
    raster(folder / "ph.tif", np.full((20, 20), 7.0))
    study(folder, YARDS + '[rasters.ph]\npath = "ph.tif"\nerror = "some"\n')
    refused(folder, "rasters.ph.error")


def test_parcels_and_buildings_alone_claim_nothing_of_sun_and_soil(folder):
    """Not assessed is never good: no score, no class, no area; plans are made and say so."""
    asked = '[suitability]\nrasters = ["Monarda fistulosa"]\n'
    study(folder, '[layers.yards]\npath = "yards.gpkg"\n' + asked)
    why = json.loads(call("why", "study.toml", "--yard", "a", "--plant", "wild bergamot", "--json")[1])
    assert (why["best_fit"], why["class"], why["areas_m2"], why["where"]) == (None, "", {}, "")
    assert "Nothing is claimed" in why["sentence"]
    assert why["alternatives"]
    assert {row["fit"] for row in why["alternatives"]} == {None}
    assert call(*RUN)[0] == 0
    plants = gpd.read_file(folder / "plan" / "plan.gpkg", layer="plantings")
    assert len(plants)
    assert plants["why"].str.endswith("neither sun nor soil was assessed.").all()
    assert plants["fit"].isna().all()
    habitat = gpd.read_file(folder / "plan" / "plan.gpkg", layer="yard_butterflies")
    assert (habitat["habitat_m2"] > 0).any()  # what is not assessed takes nothing away
    with rasterio.open(folder / "plan/rasters/fit-monarda-fistulosa.tif") as fit:
        assert np.isnan(fit.read()).all()


def test_why_says_what_the_plan_keeps_out_and_by_which_needs_alone_it_judges(folder):
    """Milkweeds are no major poison by class: where children live they stand away from play, not barred."""
    raster(folder / "ph.tif", np.full((20, 20), 6.5))
    (folder / "signed.csv").write_text("yard_id,role,children\na,yes please,2\nb,yes,no\n", encoding="utf-8")
    sheet = '[layers.participants]\npath = "signed.csv"\n[rasters.ph]\npath = "ph.tif"\n'
    study(folder, '[layers.yards]\npath = "yards.gpkg"\n' + sheet)
    for yard, kept_out in (("a", ""), ("b", "")):
        ask = ["why", "study.toml", "--yard", yard, "--plant", "swamp milkweed", "--quiet"]
        answer = json.loads(call(*ask, "--json")[1])
        assert (kept_out in answer["kept_out"]) if kept_out else not answer["kept_out"]
        assert any(row["kept_out"] == kept_out for row in answer["alternatives"])
        assert "highly suitable (S1), by soil pH alone, at its best place" in answer["sentence"]
        text = " ".join(call(*ask)[1].split())
        assert ("The plan keeps it out of this yard: skin irritant" in text) == bool(kept_out)
        assert "Fit, from 0 to 1, is the score of the need that is met worst" in text


def test_one_soil_test_takes_no_plan_from_other_yards(folder):
    """Nobody mapped the soil here: what one household measures says nothing of the others' ground."""
    layers = '[layers.yards]\npath = "yards.gpkg"\n[layers.buildings]\npath = "houses.gpkg"\n'
    study(folder, layers)
    assert call(*RUN)[0] == 0
    before = gpd.read_file(folder / "plan" / "plan.gpkg", layer="plantings")
    (folder / "soil.csv").write_text("yard_id,ph,drainage\nb,6.4,well drained\n", encoding="utf-8")
    study(folder, layers + '[layers.soil_tests]\npath = "soil.csv"\n')
    assert call(*RUN, "--replace")[0] == 0
    after = gpd.read_file(folder / "plan" / "plan.gpkg", layer="plantings")
    assert set(before["yard_id"]) == set(after["yard_id"]) == {"a", "b", "c"}
    assert (after["fit"] > 0.25).all()
    why = json.loads(call("why", "study.toml", "--yard", "a", "--plant", "wild bergamot", "--json")[1])
    assert "soil pH" in " ".join(why["not_assessed"])

"""``habitat redraw`` writes results anew from edited tables, keeps the edits, and tells what is wrong."""

import json
import shutil
from types import SimpleNamespace

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from shapely import affinity

import habitat
from habitat.errors import OutputError
from habitat.pipeline.alone import alone_in
from habitat.pipeline.redraw import LISTED
from habitat.report.written import sha256_of
from tests.commands.calls import call


@pytest.fixture(scope="module")
def redrawn(first_run, tmp_path_factory):
    """A list with a plant swapped, a count made larger and a row struck; a bed moved over the fence."""
    home = tmp_path_factory.mktemp("redraw") / "town"
    shutil.copytree(first_run.home, home)
    table = pd.read_csv(home / "first" / LISTED, dtype=str, encoding="utf-8-sig")
    one = table[table["yard_id"] == first_run.ids[0]].index
    table.loc[one[0], "count"] = str(int(table.loc[one[0], "count"]) + 5)
    table.loc[one[1], "plant"] = "wild bergamot"
    table.drop(index=one[2]).to_csv(home / "first" / LISTED, index=False)
    beds = gpd.read_file(home / "first" / "plan.gpkg", layer="beds")
    moved = beds.index[beds["yard_id"] == first_run.ids[1]][0]
    beds.loc[moved, "geometry"] = affinity.translate(beds.geometry[moved], 300.0, 0.0)
    pyogrio.write_dataframe(beds, home / "first" / "plan.gpkg", layer="beds")
    keys = table.loc[one[:3], "planting_id"].tolist()
    counts = table.set_index("planting_id")["count"].astype(int)
    edited = {name: sha256_of(home / "first" / name) for name in (LISTED, "plan.gpkg")}
    said = json.loads(call("redraw", str(home / "first"), "--workers", "1", "--json"))
    return SimpleNamespace(
        home=home, out=home / "first", keys=keys, counts=counts, said=said, edited=edited,
        bed=beds["bed_id"][moved], was=beds.geometry[moved], ids=first_run.ids,
    )  # fmt: skip


def layer(redrawn, name):
    return gpd.read_file(redrawn.out / "plan.gpkg", layer=name)


def test_what_was_edited_is_drawn_and_marked(redrawn):
    rows = layer(redrawn, "plantings").set_index("planting_id")
    more, swapped, struck = redrawn.keys
    assert rows.loc[more, "count"] == redrawn.counts[more]
    assert rows.loc[swapped, ["plant", "why"]].tolist() == ["Monarda fistulosa", "Put here by hand."]
    assert struck not in rows.index
    assert set(rows.index[rows["by_hand"].astype(bool)]) >= {more, swapped}
    others = rows[~rows["yard_id"].isin(redrawn.ids[:2])]
    assert not others["by_hand"].astype(bool).any()


def test_plants_follow_the_bed_and_the_fence_is_named(redrawn):
    beds = layer(redrawn, "beds").set_index("bed_id")
    assert beds.geometry[redrawn.bed].centroid.distance(redrawn.was.centroid) < 1e-6
    points = layer(redrawn, "plant_points")
    mine = points[points["bed_id"] == redrawn.bed]
    assert len(mine)
    assert (mine.distance(beds.geometry[redrawn.bed]) < 1e-6).all()
    assert any("100% of bed" in line and "lies outside the yard" in line for line in redrawn.said["notes"])


def test_rows_of_the_package_are_what_is_bought_and_dug(redrawn):
    rows = layer(redrawn, "plantings")
    assert layer(redrawn, "plant_points").groupby("planting_id").size().to_dict() == (
        rows.set_index("planting_id")["count"].to_dict()
    )
    headline = json.loads((redrawn.out / "run.json").read_text(encoding="utf-8"))["headline"]
    assert headline["counts"]["plants"] == rows["count"].sum()
    assert headline["cost"] == pytest.approx(rows["cost"].sum())
    listed = pd.read_csv(redrawn.out / LISTED, encoding="utf-8-sig").set_index("planting_id")
    assert listed["count"].to_dict() == rows.set_index("planting_id")["count"].to_dict()


def test_nothing_is_lost(redrawn):
    """The old results stand beside, whole, and the edited tables in the new ones as they came."""
    kept = next(p for p in redrawn.home.iterdir() if p.name.startswith("first-before-"))
    for name, was in redrawn.edited.items():
        assert sha256_of(kept / name) == was
        assert sha256_of(redrawn.out / "as_edited" / name.split("/")[-1]) == was
    about = json.loads((redrawn.out / "run.json").read_text(encoding="utf-8"))
    assert about["redrawn_from"]["run_sha256"] == sha256_of(kept / "run.json")


def test_nothing_is_drawn_anew_while_a_run_works_there(redrawn):
    with alone_in(redrawn.out), pytest.raises(OutputError, match="another run"):
        call("redraw", str(redrawn.out))


def test_a_target_that_is_there_is_refused_before_any_work(redrawn, monkeypatch, tmp_path):
    monkeypatch.setattr("habitat.pipeline.run.run", lambda *a, **k: pytest.fail("it began its work"))
    (tmp_path / "run.json").write_text("{}", encoding="utf-8")
    with pytest.raises(
        OutputError, match=r"results here already.*another folder with --out; 'habitat run' with --replace"
    ):
        call("redraw", str(redrawn.out), "--out", str(tmp_path))
    with pytest.raises(OutputError, match="the study's own folder"):
        call("redraw", str(redrawn.out), "--out", str(redrawn.home))


def test_a_draft_made_by_hand_is_kept_by_the_next_run(redrawn):
    from habitat.revision.earlier import read_earlier

    study = habitat.read_study(redrawn.home / "study.toml")
    crs, yards = layer(redrawn, "beds").crs, layer(redrawn, "yards")
    plan_layers = SimpleNamespace(crs=crs, yards=yards, frame=lambda _: None)
    earlier = read_earlier(redrawn.out, study, plan_layers)
    assert earlier.kept == set(redrawn.ids[:2])


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (lambda t: t.drop(columns="count"), "the column count is gone"),
        (lambda t: t.assign(spacing_m=["wide", *t["spacing_m"].iloc[1:]]), "in row 1, spacing_m is 'wide'"),
    ],
)
def test_a_damaged_layer_is_named_with_its_row(first_run, tmp_path, edit, said):
    out = shutil.copytree(first_run.folder, tmp_path / "first")
    table = gpd.read_file(out / "plan.gpkg", layer="plantings")
    pyogrio.write_dataframe(edit(table), out / "plan.gpkg", layer="plantings")
    with pytest.raises(habitat.HabitatError, match=said) as caught:
        call("redraw", str(out), "--study", str(first_run.path), "--workers", "1", "--quiet")
    assert "layer plantings" in str(caught.value)

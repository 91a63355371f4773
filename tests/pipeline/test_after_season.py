"""Four yards in three seasons, played by a seeded script: figures by plain arithmetic from the forms."""

import json
import random
import shutil
from types import SimpleNamespace

import pandas as pd
import pytest
import shapely

import habitat
from habitat.pipeline.after_season import _SeasonOn
from habitat.planting.settled import living_of
from habitat.report.lists.shopping import shopping_table
from habitat.report.words.en import english
from habitat.report.written import sha256_of
from habitat.revision.deciding import decide
from habitat.revision.season import Season, Told
from tests.report.lists.test_season import with_living
from tests.report.small_plan import small_plan


def fill(folder, chance, *, wet):
    """Fill a form in as households do: some say nothing; on wet ground more die."""
    form = pd.read_csv(folder / "lists" / "season-form.csv", dtype=str, encoding="utf-8-sig").fillna("")
    for k, row in form.iterrows():
        count = int(row["count"])
        if chance.random() < 0.15:
            continue  # no answer
        lives = 0.55 if row["yard_id"] in wet else 0.9
        alive = sum(chance.random() < lives for _ in range(count))
        if row["form"] != "living":
            form.loc[k, "planted"] = chance.choice([str(count), "all"])
        form.loc[k, "alive_next_spring"] = {0: "none", count: "all"}.get(alive, str(alive))
    return form


def count(form, column="alive_next_spring"):
    """Return by row how many a form tells of, blank rows left out."""
    told = form[form[column] != ""]
    whole = told["count"].astype(int)
    return whole.where(told[column] == "all", told[column].replace({"none": "0", "all": "0"}).astype(int))


def run(home, date, form, after):
    form.to_csv(home / "season.csv", index=False)
    study = habitat.read_study(home / "study.toml").changed(study={"date": date})
    return habitat.run(study, after=after)


@pytest.fixture(scope="module")
def town(first_run, tmp_path_factory):
    """Three seasons: all accept, one yard joins late, plants die, and nobody declines."""
    home = tmp_path_factory.mktemp("seasons") / "town"
    shutil.copytree(first_run.home, home)
    with (home / "study.toml").open("a", encoding="utf-8") as file:
        file.write('[layers.season]\npath = "season.csv"\n')
    chance, wet = random.Random(18), set(first_run.ids[:2])
    decide(home / "first", yards=first_run.ids, status="planted", date="2026-05-01")
    forms = [fill(home / "first", chance, wet=wet)]
    people = "\n".join([first_run.lines[0], first_run.late, *first_run.lines[1:]])
    (home / "participants.csv").write_text(people + "\n", encoding="utf-8")
    second = run(home, "2027-03-01", forms[0], home / "first")
    habitat.write_plan(second, home / "second")
    forms.append(fill(home / "second", chance, wet=wet))
    third = run(home, "2028-03-01", forms[1], home / "second")
    late = first_run.late.split(",")[0]
    return SimpleNamespace(home=home, plans=[first_run.plan, second, third], forms=forms, late=late, wet=wet)


def told_rows(form):
    return form[form["alive_next_spring"] != ""]


def test_what_lives_after_the_first_season_is_what_the_form_says(town):
    form, plan = town.forms[0], town.plans[1]
    alive = count(form).groupby(form["planting_id"]).sum()
    living = living_of(plan.existing_plants).groupby("planting_id").size()
    assert living.to_dict() == alive[alive > 0].to_dict()
    assert set(living_of(plan.existing_plants)["seasons"]) == {1}
    joined = plan.yards.set_index("yard_id")["status"]
    assert joined[town.late] == "draft"


def test_gaps_are_planted_again_where_plants_died(town):
    form, plan, first = town.forms[0], town.plans[1], town.plans[0]
    told = told_rows(form)
    gaps = told["count"].astype(int) - count(form)
    gaps = gaps[gaps > 0]
    new = plan.plantings[plan.plantings["planting_id"].str.contains("-r")].set_index("planting_id")
    assert dict(zip(form.loc[gaps.index, "planting_id"] + "-r1", gaps, strict=True)) == new["count"].to_dict()
    assert new["plant"].tolist() == [
        first.plantings.set_index("planting_id").loc[k.removesuffix("-r1"), "plant"] for k in new.index
    ]
    places = {(p.x, p.y) for p in first.plant_points.geometry}
    mine = plan.plant_points[plan.plant_points["planting_id"].isin(new.index)]
    assert {(p.x, p.y) for p in mine.geometry} <= places
    standing = {(p.x, p.y) for p in living_of(plan.existing_plants).geometry}
    assert not standing & {(p.x, p.y) for p in plan.plant_points.geometry}


def test_what_nobody_told_of_stays_and_is_not_bought_again(town):
    form, plan, first = town.forms[0], town.plans[1], town.plans[0]
    silent = form.loc[form["alive_next_spring"] == "", "planting_id"]
    rows = plan.plantings.set_index("planting_id")
    assert set(rows.loc[silent, "planted_in"]) == {2026}
    assert rows.loc[silent, "count"].tolist() == (
        first.plantings.set_index("planting_id").loc[silent, "count"].tolist()
    )
    bought = shopping_table(plan)
    bought = bought[bought["list"] == "yard"]["count"].sum()
    members = set(plan.yards.loc[plan.yards["role"] == "member", "yard_id"])
    died = (told_rows(form)["count"].astype(int) - count(form))[
        told_rows(form)["yard_id"].isin(members)
    ].sum()
    late = rows[rows["yard_id"] == town.late]["count"].sum() if town.late in members else 0
    assert bought == died + late


def test_survival_is_counted_by_plant_and_form(town):
    form, plan = town.forms[0], town.plans[1]
    told = told_rows(form)
    lots = pd.DataFrame([(x.plant, x.form, x.planted, x.alive) for x in plan.carried.survival])
    assert lots[2].sum() == told["count"].astype(int).sum()
    assert lots.groupby([0, 1])[3].sum().to_dict() == (
        count(form).groupby([told["plant"], told["form"]]).sum().to_dict()
    )
    table = pd.read_csv(town.home / "second" / "lists" / "survival.csv", encoding="utf-8-sig")
    assert table["planted"].sum() == lots[2].sum()
    assert (table["low"] <= table["share"]).all()
    assert (table["share"] <= table["high"]).all()


def test_third_season_adds_to_the_second(town):
    form, plan = town.forms[1], town.plans[2]
    told = told_rows(form)
    had = living_of(town.plans[1].existing_plants).groupby("planting_id").size()
    alive = had.to_dict() | count(form).groupby(told["planting_id"]).sum().to_dict()
    late = {key for key in alive if key.startswith(town.late)}
    living = living_of(plan.existing_plants).groupby("planting_id").size()
    assert living.to_dict() == {key: n for key, n in alive.items() if n > 0}
    ages = living_of(plan.existing_plants).groupby("planting_id")["seasons"].first()
    assert all(ages[key] == (1 if "-r" in key or key in late else 2) for key in ages.index)
    first = town.plans[1].plantings.set_index("planting_id")["planted_in"]
    new = told[(told["form"] != "living") & told["planting_id"].map(first).isna()]
    cases = sum(lot.planted for lot in plan.carried.survival) - sum(
        lot.planted for lot in town.plans[1].carried.survival
    )
    assert cases == new["count"].astype(int).sum()


def test_who_died_twice_gives_way_or_it_is_said_that_nobody_knows_better(town):
    notes = [n for n in town.plans[2].notes if getattr(n, "kind", "") == "replaced_twice"]
    form = told_rows(town.forms[1])
    again = form[form["planting_id"].str.contains("-r") & (form["form"] != "living")]
    lost = again["count"].astype(int) > count(town.forms[1]).loc[again.index]
    assert len(notes) == lost.sum() > 0
    assert all("died where it had been replaced already" in english()(n) for n in notes)


def test_no_new_bed_lies_on_an_old_one(town):
    for before, after in zip(town.plans, town.plans[1:], strict=False):
        old = shapely.union_all(before.beds.geometry.to_numpy())
        new = after.beds[~after.beds["bed_id"].isin(before.beds["bed_id"])]
        assert (new.geometry.intersection(old).area < 1e-6).all()
        assert set(new["yard_id"]) <= {town.late}
        kept = after.beds.set_index("bed_id").geometry
        assert all(
            kept[b].equals(g) for b, g in zip(before.beds["bed_id"], before.beds.geometry, strict=True)
        )


def test_the_corridor_does_not_fall_by_somebodys_joining(town):
    """Gaps are planned again, so that all who are planned together reach what they reached, and more."""
    first, second, third = (plan.headline["butterflies"] for plan in town.plans)
    for name, was in first.items():
        assert second[name]["everyone"]["equivalent_area_m2"] >= 0.999 * was["everyone"]["equivalent_area_m2"]
        today = [b[name]["today"]["equivalent_area_m2"] for b in (first, second, third)]
        assert today[0] <= today[1] <= today[2] + 1e-6


def test_what_lives_stands_where_a_plan_is_a_draft_again(tmp_path):
    """Nobody replaces what died there: the yard is planned anew, around what lives."""
    plan, many = with_living(small_plan(tmp_path))
    earlier = SimpleNamespace(
        tables={"existing_plants": plan.existing_plants}, season=Season({"0007-old": Told(alive=many - 1)}),
        year=2025,
    )  # fmt: skip
    settled = SimpleNamespace(results=pd.DataFrame({"yard_id": []}))
    request = SimpleNamespace(layers=plan.layers, study=plan.study, knowledge=plan.knowledge)
    season = _SeasonOn(request, earlier, settled)
    season.read_living()
    assert [row["planting_id"] for row in season.living] == ["0007-old"] * (many - 1)
    assert season.gaps == []


def test_milestones_are_counted_run_by_run(town):
    history = town.plans[2].carried.history
    assert [one.date for one in history] == ["2026-03-01", "2027-03-01", "2028-03-01"]
    assert [one.after for one in history[:2]] == ["", sha256_of(town.home / "first" / "run.json")]
    assert history[2].after == sha256_of(town.home / "second" / "run.json")
    assert [one.alive for one in history] == [len(living_of(plan.existing_plants)) for plan in town.plans]
    roles = [(plan.yards["role"] == "member").sum() for plan in town.plans]
    assert [one.joined for one in history] == roles == [one.asked for one in history]
    assert [one.planted for one in history] == [0, 4, 5]
    assert {one.species for one in history} == {None}  # nobody has written down what was seen


def test_each_run_names_the_one_before_and_keeps_the_form(town):
    about = json.loads((town.home / "second" / "run.json").read_text(encoding="utf-8"))
    assert about["after"]["folder"] == "first"
    kept = pd.read_csv(town.home / "second" / "as_edited" / "season.csv", dtype=str).fillna("")
    pd.testing.assert_frame_equal(kept, town.forms[0])

"""Eight demo yards in three seasons, by a seeded script: late joiners, silence, losses on moist ground."""

import random
from types import SimpleNamespace

import geopandas as gpd
import pandas as pd
import pytest
import shapely

import habitat
from habitat.planting.settled import PLANTED_IN, living_of
from habitat.report.lists.season import season_table
from habitat.revision.deciding import decide
from habitat.study.model import parse_study
from tests.properties.test_living_plan import agree
from tests.support.eight_yards import DEMO
from tests.support.tiny_town import write_for_next

MOIST = {"somewhat poorly drained", "poorly drained", "very poorly drained", "moderately well drained"}
LEFT_OUT = ("soil_tests", "sightings")  # they speak of other yards alone


@pytest.fixture(scope="module")
def base():
    """Return the demo's study as data, cut to eight yards of one block, and these."""
    yards = gpd.read_file(DEMO.parent / "town.gpkg", layer="yards", ignore_geometry=True)["parcel"]
    ids = [yard for yard in yards.drop_duplicates() if yard.startswith("01-")][:8]
    data = habitat.read_study(DEMO).model_dump(exclude_unset=True)
    data["layers"] = {name: layer for name, layer in data["layers"].items() if name not in LEFT_OUT}
    data["layers"]["yards"] |= {"where": f"yard_id IN ({', '.join(map(repr, ids))})"}
    data["planting"] |= {"wishes": ["monarch", "black swallowtail"]}
    data["connectivity"] |= {"butterflies": ["monarch", "black swallowtail"], "rank_draws": 0}
    return data, ids


def season(base, home, year, roles, after=None, form=None):
    """Run a season with what the sign-up sheet and the season form say, and write what the next one reads."""
    data, ids = base
    people = home / f"people-{year}-{len(list(home.glob('people-*')))}.csv"
    rows = [f"{yard},{role}" for yard, role in zip(ids, roles, strict=True)]
    people.write_text("\n".join(["yard_id,role", *rows]) + "\n", encoding="utf-8")
    layers = data["layers"] | {"participants": {"path": str(people)}}
    if form is not None:
        form.to_csv(home / f"form-{year}.csv", index=False)
        layers |= {"season": {"path": str(home / f"form-{year}.csv")}}
    study = parse_study(data | {"layers": layers, "study": data["study"] | {"date": f"{year}-03-01"}}, DEMO)
    return habitat.run(study, after=after)


def fill(plan, planted, chance):
    """Fill the form in for yards that were planted: one row in six stays blank; on moist ground more die."""
    form = season_table(plan).astype(object).where(lambda t: t.notna(), "")
    moist = set(plan.yards.loc[plan.yards["drainage_mode"].isin(MOIST), "yard_id"])
    for k, row in form.iterrows():
        if row["yard_id"] not in planted or chance.random() < 1 / 6:
            continue
        lives = 0.5 if row["yard_id"] in moist else 0.9
        form.loc[k, "alive_next_spring"] = str(sum(chance.random() < lives for _ in range(int(row["count"]))))
        if row["form"] != "living":
            form.loc[k, "planted"] = "all"
    return form.astype(str)


def say(folder, ids, **words):
    for status, numbers in words.items():
        yards = [ids[n] for n in numbers]
        decide(folder, yards=yards, status=status.replace("_", " "), date=f"{folder.name}-05-01")


@pytest.fixture(scope="module")
def town(base, tmp_path_factory):
    """Who takes part: four; a fifth joins after it was asked, two the year after; one says no."""
    home, chance = tmp_path_factory.mktemp("town"), random.Random(2026)
    ids = base[1]
    roles = ["member"] * 4 + ["candidate"] * 2 + ["other"] * 2
    plans = [season(base, home, 2026, roles)]
    first = write_for_next(plans[0], home / "2026")
    say(first, ids, planted=[0, 1], accepted=[2], asked=[4], said_no=[5])
    forms = [fill(plans[0], ids[:2], chance)]
    without = season(base, home, 2027, roles, first, forms[0])
    roles = ["member"] * 5 + ["candidate", "candidate", "other"]
    plans.append(season(base, home, 2027, roles, first, forms[0]))
    second = write_for_next(plans[1], home / "2027")
    say(second, ids, planted=[2, 4], accepted=[3], asked=[6])
    forms.append(fill(plans[1], [ids[n] for n in (0, 1, 2, 4)], chance))
    roles = ["member"] * 5 + ["candidate", "member", "member"]
    plans.append(season(base, home, 2028, roles, second, forms[1]))
    return SimpleNamespace(plans=plans, forms=forms, without=without, ids=ids)


def told(form):
    """Return by planting how many of how many live, where somebody said so."""
    rows = form[form["alive_next_spring"] != ""]
    return {r.planting_id: (int(r.alive_next_spring), int(r.count_), r.form) for r in rows.rename(
        columns={"count": "count_"}).itertuples()}  # fmt: skip


def living(plan):
    return living_of(plan.existing_plants).groupby("planting_id").size().to_dict()


def test_rows_points_sheets_money_and_what_is_bought_agree_each_season(town):
    for plan in (*town.plans, town.without):
        agree(plan)


def test_what_lives_and_what_is_planted_again_is_what_the_forms_say(town):
    had, silent = {}, 0
    for form, plan in zip(town.forms, town.plans[1:], strict=True):
        said = told(form)
        want = had | {key: alive for key, (alive, _, _) in said.items()}
        assert living(plan) == {key: n for key, n in want.items() if n > 0}
        gaps = sum(count - alive for alive, count, _ in said.values())
        new = plan.plantings[
            plan.plantings["planting_id"].str.contains(r"-r\d+$") & plan.plantings[PLANTED_IN].isna()
        ]
        assert new["count"].sum() == gaps > 0
        had, silent = living(plan), silent + len(form) - len(said)
    assert silent > 0
    lots = pd.DataFrame([(x.ground, x.planted, x.alive) for x in town.plans[2].carried.survival])
    sums = lots.groupby(0).sum()
    assert (sums[2] / sums[1])["moist"] < (sums[2] / sums[1])["well drained"]


def test_milestones_of_each_season_are_plain_sums(town):
    history = town.plans[2].carried.history
    assert [one.joined for one in history] == [4, 5, 7]
    assert [one.asked for one in history] == [4, 6, 8]  # one said no
    assert [one.planted for one in history] == [0, 2, 4]
    assert [one.alive for one in history] == [sum(living(plan).values()) for plan in town.plans]


def test_whom_to_ask_goes_by_what_was_said(town):
    first, second, third = ({*plan.invitations["yard_id"]} for plan in town.plans)
    assert first == set(town.ids[4:6])
    assert second == {town.ids[6]}  # the one who said no is left out
    assert third == set()
    assert set(town.without.invitations["yard_id"]) == {town.ids[4]}  # asked a year before, and again


def test_no_new_bed_lies_on_an_old_one(town):
    for before, after in zip(town.plans, town.plans[1:], strict=False):
        stay = before.beds[before.beds["yard_id"] != town.ids[5]].set_index("bed_id").geometry
        now = after.beds.set_index("bed_id").geometry
        assert all(now[bed].equals(shape) for bed, shape in stay.items())
        new = now[~now.index.isin(stay.index)]
        assert len(new)
        assert (new.intersection(shapely.union_all(stay.to_numpy())).area < 1e-6).all()


def test_the_corridor_never_falls_by_somebodys_joining(town):
    for name, with_it in town.plans[1].headline["butterflies"].items():
        alone = town.without.headline["butterflies"][name]
        for state in ("today", "members", "everyone"):
            assert with_it[state]["equivalent_area_m2"] >= alone[state]["equivalent_area_m2"] * (1 - 1e-9)
    kept = town.plans[1].plantings
    others = kept[kept["yard_id"] != town.ids[6]].reset_index(drop=True)
    same = town.without.plantings
    pd.testing.assert_frame_equal(same[same["yard_id"] != town.ids[6]].reset_index(drop=True), others)

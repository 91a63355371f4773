"""The README's main job on the demo town: exit code, files, and every headline figure worked out again."""

import json
import math
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import networkx as nx
import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader
from shapely import Point

from tests.support.demo_beds import (
    beds_by_yard,
    greatest_shares,
    kinds_of,
    of_members,
    spread_of_kinds,
    vines_without_support,
)
from tests.support.plan_rules import broken
from tests.support.regions import (
    SHARED,
    STATES,
    about,
    half_months_of,
    hosts_by_plant,
    parts,
    read,
    table,
    windows,
)

ROOT = Path(__file__).parents[3]
DEMO = ROOT / "sample_geodata" / "study.toml"


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "plan"
    done = subprocess.run(
        [sys.executable, "-m", "habitat", "run", str(DEMO), "--out", str(folder)],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return folder, done


@pytest.fixture(scope="module")
def headline(result):
    return json.loads((result[0] / "run.json").read_text(encoding="utf-8"))["headline"]


@pytest.fixture(scope="module")
def tables(result):
    def read(name):
        return gpd.read_file(result[0] / "plan.gpkg", layer=name)

    return {
        name: read(name)
        for name in (
            "yards",
            "plantings",
            "plant_points",
            "beds",
            "yard_butterflies",
            "links",
            "existing_plants",
        )
    }


def test_everything_promised_is_there(result):
    folder, _ = result
    for name in (
        "plan.gpkg",
        "run.json",
        "timings.json",
        "page.html",
        "shopping.csv",
        "calendar.ics",
        "READ_ME.txt",
    ):
        assert (folder / name).stat().st_size > 0, name
    assert (folder / "page.html").stat().st_size < 6e6  # opens from a stick on an old phone
    assert len(list((folder / "maps").glob("*.png"))) >= 5
    assert (folder / "sheets" / "all-yards.pdf").stat().st_size > 0
    assert len(list((folder / "sheets").glob("yard-*.pdf"))) >= 100
    assert (folder / "rasters" / "sun_h.tif").stat().st_size > 0
    layers = set(gpd.list_layers(folder / "plan.gpkg")["name"])
    assert {
        "yards", "existing_plants", "open_ground", "beds", "plantings", "plant_points", "yard_butterflies",
        "links", "chain", "invitations", "set_aside",
    } <= layers  # fmt: skip


def test_nothing_is_left_beside_the_results(result):
    assert [p.name for p in result[0].parent.iterdir()] == ["plan"]


def test_progress_goes_to_the_other_stream(result):
    _, done = result
    assert "5. Ask next" in done.stdout
    assert "Corridor" in (result[0] / "summary.txt").read_text(encoding="utf-8")
    assert "of" in done.stderr


def test_life_cycles_by_year_are_those_of_the_table(headline, tables):
    told = headline["life_cycles_closed"]
    mine = tables["yard_butterflies"]
    mine = mine[mine["role"] != "anchor"]
    years = ["today", *(f"year_{y}" for y in range(1, 6))]
    assert list(told) == years
    assert list(told.values()) == [int((mine["closes_in_year"] <= y).sum()) for y in range(6)]
    assert told["year_5"] == (mine["missing"].fillna("") == "").sum()
    assert told["today"] <= told["year_1"] < told["year_2"]  # plugs carry a brood in their second season


def test_every_column_says_what_it_is(result):
    """Also those that single stages add to the tables of the contract (GeoPackage, Schema extension)."""
    query = "SELECT table_name, column_name, title FROM gpkg_data_columns WHERE description > ''"
    with closing(sqlite3.connect(result[0] / "plan.gpkg")) as base:
        layers = [name for (name,) in base.execute("SELECT table_name FROM gpkg_contents")]
        told = {(table, column): title for table, column, title in base.execute(query)}
        there = {(t, row[1]) for t in layers for row in base.execute(f'PRAGMA table_info("{t}")')}
    assert len(there) > 150
    assert there - set(told) == {(t, c) for t, c in there if c in ("fid", "geom")}
    assert told["yards", "depth_cm_mean"] == "depth cm mean [cm]"


def test_counts_and_cost_are_those_of_the_tables(headline, tables):
    counts = headline["counts"]
    assert counts["yards"] == len(tables["yards"])
    assert counts["members"] == (tables["yards"]["role"] == "member").sum()
    assert counts["candidates"] == (tables["yards"]["role"] == "candidate").sum()
    assert counts["beds"] == len(tables["beds"])
    assert counts["plants"] == tables["plantings"]["count"].sum() == len(tables["plant_points"])
    assert counts["plant_kinds"] == tables["plantings"]["plant"].nunique()
    assert counts["yards_with_plants"] == tables["plantings"]["yard_id"].nunique()
    assert counts["existing_plants"] == pytest.approx(tables["existing_plants"]["count"].sum())
    assert headline["cost"] == pytest.approx(tables["plantings"]["cost"].sum(), abs=0.01)
    mine = tables["yards"].loc[tables["yards"]["role"] == "member", "yard_id"]
    mine = tables["plantings"][tables["plantings"]["yard_id"].isin(mine)]
    assert counts["plants_of_members"] == mine["count"].sum() < counts["plants"]
    assert headline["cost_of_members"] == pytest.approx(mine["cost"].sum(), abs=0.01)


def test_one_sum_to_buy_is_told_everywhere(result, headline):
    """The list to buy holds spares and full trays; its sum stands in run.json, on the page and in print."""
    folder, done = result
    listed = pd.read_csv(folder / "shopping.csv", encoding="utf-8-sig")
    total = listed.loc[listed["list"] == "whole group", "cost"].sum()
    assert headline["cost_to_buy"] == pytest.approx(total, abs=0.01)
    assert headline["cost_to_buy"] > headline["cost_of_members"]
    words = f"{total:,.0f}"
    assert words in done.stdout
    assert f"{words} with spares and full trays" in (folder / "page.html").read_text(encoding="utf-8")
    printed = "".join(page.extract_text() for page in PdfReader(folder / "lists" / "shopping.pdf").pages)
    assert words in printed


def areas(frame, state):
    """Return a_i of a state: planned habitat of those who take part in it, standing habitat of the rest."""
    planned = frame["role"].isin(
        ["member", "anchor"] if state == "members" else ["member", "candidate", "anchor"]
    )
    if state == "today":
        planned = frame["role"] == "anchor"
    return dict(
        zip(frame["yard_id"], np.where(planned, frame["habitat_m2"], frame["habitat_before_m2"]), strict=True)
    )


def equivalent_area(frame, links, state):
    """Return sqrt(sum a_i a_j p*_ij) over a state's links: Saura et al. 2011, Ecol. Indic. 11:407-416."""
    a = areas(frame, state)
    graph = nx.Graph()
    graph.add_nodes_from(a)
    for link in links[links["state"] == state].itertuples():
        graph.add_edge(link.from_yard, link.to_yard, weight=-math.log(max(link.passage, 1e-300)))
    total = 0.0
    for one, reach in nx.all_pairs_dijkstra_path_length(graph):
        if a.get(one, 0.0) > 0:
            total += sum(a[one] * a.get(two, 0.0) * math.exp(-d) for two, d in reach.items())
    return math.sqrt(total)


@pytest.mark.parametrize("state", ["today", "members", "everyone"])
def test_corridor_figures_follow_from_the_tables(headline, tables, state):
    assert headline["butterflies"]
    top = {}
    for name, entry in headline["butterflies"].items():
        frame = tables["yard_butterflies"]
        frame = frame[frame["butterfly"] == name]
        links = tables["links"][tables["links"]["butterfly"] == name]
        area = equivalent_area(frame, links, state)
        top[name] = equivalent_area(frame, links, "everyone")
        assert entry[state]["equivalent_area_m2"] == pytest.approx(area, rel=1e-3, abs=1e-6), name
        assert entry[state]["habitat_m2"] == pytest.approx(
            sum(areas(frame, state).values()), rel=1e-6, abs=1e-6
        )
        if top[name] > 0:
            assert entry[state]["score"] == pytest.approx(area / top[name], rel=2e-3, abs=1e-6)
    scores = [e[state]["score"] for n, e in headline["butterflies"].items() if top[n] > 0]
    assert headline["joint_score"][state] == pytest.approx(np.mean(scores), rel=1e-3, abs=1e-6)


def test_yard_columns_follow_from_the_other_tables(tables):
    yards = tables["yards"].set_index("yard_id")
    cost = tables["plantings"].groupby("yard_id")["cost"].sum()
    assert yards["cost"].sum() == pytest.approx(cost.sum())
    closed = tables["yard_butterflies"]
    closed = closed[closed["missing"].fillna("") == ""].groupby("yard_id").size()
    closed = closed[[i for i in closed.index if i in yards.index]]
    assert yards.loc[closed.index, "life_cycles_closed"].tolist() == closed.tolist()


def test_a_second_run_into_the_same_folder_is_refused(result):
    done = subprocess.run(
        [sys.executable, "-m", "habitat", "run", str(DEMO), "--out", str(result[0])],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 2
    assert "--replace" in done.stderr
    assert "Traceback" not in done.stderr


def test_no_cycle_closes_without_a_plant_that_she_lays_on_and_food_all_along(tables):
    """Against a plain second reading of the tables (tests/support/regions.py), not the code that decides."""
    region = "ohio-valley-mid-atlantic"
    season = about(region)["season_months"][0]
    plants = {row["scientific_name"]: row for row in table(region, "plants").to_dict("records")}
    flies = {row["scientific_name"]: row for row in table(region, "butterflies").to_dict("records")}
    hosts = {key: row for key, row in hosts_by_plant(region).items() if row["lays"] != "doubtful"}
    grown = _grown(tables)
    rows = tables["yard_butterflies"]
    closed = rows[(rows["role"] != "anchor") & (rows["verdict"] == "can breed")]
    assert len(closed) > 50
    for row in closed.itertuples():
        fly, food, eggs = flies[row.butterfly], set(), set()
        for plant in grown[row.yard_id] & set(plants):
            host = hosts.get((row.butterfly, plant))
            if host is None:
                continue
            food |= {s for k in parts(host["part_eaten"]) for s in half_months_of(plants[plant], k, season)}
            if host["lays"] == "yes":
                laid = parts(fly["eggs_on"])
                eggs |= {s for k in laid for s in half_months_of(plants[plant], k, season)}
        assert windows(fly["egg_windows"]) <= eggs, (row.yard_id, row.butterfly)
        assert windows(fly["feeding_windows"]) <= food, (row.yard_id, row.butterfly)
        assert row.broods >= 1


def _grown(tables):
    """Return what stands and is planned, by yard."""
    both = pd.concat([tables[name][["yard_id", "plant"]] for name in ("existing_plants", "plantings")])
    return {yard: set(rows["plant"].dropna()) for yard, rows in both.groupby("yard_id")}


def test_every_planned_plant_is_native_to_the_state_of_the_demo(result, tables):
    states = json.loads((result[0] / "run.json").read_text(encoding="utf-8"))["settings"]["study"]["states"]
    recorded = read(SHARED / "native_states.csv").set_index("scientific_name")["native_states"].str.split()
    longitude, latitude = tables["yards"].to_crs(4326).total_bounds[:2]
    here = states or [state for state, shape in STATES.items() if shape.contains(Point(longitude, latitude))]
    assert len(here) == 1
    assert all(here[0] in recorded[plant] for plant in set(tables["plantings"]["plant"]))


def test_families_may_get_milkweeds(tables):
    people = pd.read_csv(DEMO.parent / "participants.csv", dtype=str)
    family = set(people.loc[(people["children"] == "yes") | (people["pets"] == "yes")].iloc[:, 0])
    planned = tables["plantings"]
    milkweeds = planned[planned["plant"].str.startswith("Asclepias ")]
    assert family & set(milkweeds["yard_id"])


# What a naturalist signs and a designer digs, over all yards that take part.


@pytest.fixture(scope="module")
def planted(tables):
    return of_members(tables)


def test_no_large_bed_is_mostly_one_kind(planted):
    shares = greatest_shares(*planted)
    assert len(shares) > 100
    assert (shares <= 0.6).all()


def test_the_firm_rules_of_planting_hold_in_every_yard(tables):
    beds, things = tables["beds"], {}
    for name in ("buildings", "paving", "wires"):
        things[name] = gpd.read_file(DEMO.parent / "town.gpkg", layer=name).to_crs(beds.crs)
    assert broken(tables["plantings"], tables["plant_points"], beds, **things, wire_m=6.0) == {}


def test_yards_with_room_have_nine_kinds_and_three_in_bloom_in_each_season(planted, tables):
    plantings, beds = planted
    ground = beds.groupby("yard_id")["area_m2"].sum()
    roomy = ground.index[ground >= 15.0]
    assert len(roomy) > 40
    for yard_id in roomy:
        kinds, by_season = kinds_of(yard_id, plantings, tables["existing_plants"])
        assert kinds >= 9, yard_id
        assert min(by_season) >= 3, (yard_id, by_season)


def test_yards_have_few_beds_and_differ_in_what_stands_above_the_ground_layer(planted):
    plantings, beds = planted
    assert beds_by_yard(beds, plantings).median() <= 4
    assert spread_of_kinds(plantings).max() <= 0.5


def test_no_vine_is_without_support(planted):
    assert vines_without_support(planted[0]).empty

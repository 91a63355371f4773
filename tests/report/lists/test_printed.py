"""Lists: shopping, pick list and count form against plan.gpkg, and the count form back through the tool."""

import math
import re
from dataclasses import replace

import geopandas as gpd
import pandas as pd
import pytest

from habitat.layers.types import VectorLayer
from habitat.pipeline.reading import read_layers
from habitat.pipeline.sightings import walks_of
from habitat.planting.supply import plants_a_packet
from habitat.report.lists.buying import SPARE_SHARE, TRAY, how_to_buy
from habitat.report.lists.printed import write_count_form, write_printed_lists
from habitat.report.lists.shopping import write_shopping
from habitat.report.package.geopackage import write_geopackage
from habitat.report.words.months import SHORT_MONTHS
from habitat.study.reading import read_study
from tests.report.bought import as_bought
from tests.report.sheets.test_files import read
from tests.report.small_plan import small_plan

GROWERS = pd.DataFrame(
    {
        "plant": ["Asclepias incarnata", "Monarda fistulosa", "Zizia aurea"],
        "form": ["plug", "pot", "pot"],
        "price": [3.5, 11.0, 12.0],
        "quantity": [40.0, math.nan, 500.0],
        "months": ["4-5", "", "5"],
    }
)
"""Too few of the first, no end of the second, the third in another form than planned, no others."""


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    plan = small_plan(tmp_path_factory.mktemp("study"))
    empty = plan.set_aside.iloc[:0]
    grown = VectorLayer("growers", GROWERS, 3, 3, 0, empty, None, None)
    late = plan.plantings.assign(year=[2 if n % 7 == 6 else 1 for n in range(len(plan.plantings))])
    layers = replace(plan.layers, vectors={**plan.layers.vectors, "growers": grown})
    return replace(plan, layers=layers, plantings=late)


@pytest.fixture(scope="module")
def folder(plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("lists")
    write_geopackage(plan, folder / "plan.gpkg")
    write_shopping(plan, folder / "shopping.csv")
    write_printed_lists(plan, folder)
    write_count_form(plan, folder / "count-form.csv")
    return folder


@pytest.fixture(scope="module")
def all_plantings(folder):
    """Give the package's plantings with the role of their yard."""
    tables = [
        gpd.read_file(folder / "plan.gpkg", layer=n, ignore_geometry=True) for n in ("plantings", "yards")
    ]
    return tables[0].merge(tables[1][["yard_id", "role"]], on="yard_id", validate="many_to_one")


@pytest.fixture(scope="module")
def plantings(all_plantings):
    """Give what members plant: nobody buys for a yard that has not joined."""
    return all_plantings[all_plantings["role"] == "member"]


@pytest.fixture(scope="module")
def shopping(folder):
    table = pd.read_csv(folder / "shopping.csv", dtype={"yard_id": str}, keep_default_na=False)
    return {name: rows.reset_index(drop=True) for name, rows in table.groupby("list")}


KEYS = ["year", "plant", "form"]


@pytest.mark.parametrize(("which", "keys"), [("whole group", KEYS), ("yard", ["yard_id", *KEYS])])
def test_the_list_adds_up_to_the_package(shopping, plantings, which, keys):
    wanted = plantings.groupby(keys)["count"].sum()
    told = shopping[which].groupby(keys)["count"].sum()
    pd.testing.assert_series_equal(told, wanted, check_dtype=False)
    money = plantings.groupby(keys)["cost"].sum() / wanted
    each = shopping[which].set_index(keys)["cost_each"].astype(float)
    pd.testing.assert_series_equal(each.sort_index(), money.sort_index(), check_names=False)


def test_nothing_is_bought_for_yards_that_have_not_joined(shopping, folder, all_plantings, plan, tmp_path):
    """Their plants are listed apart and on no pick list; where nobody has joined, lists are for all."""
    asked = all_plantings[all_plantings["role"] == "candidate"]
    keys = ["yard_id", *KEYS]
    told = shopping["yard that could join"].groupby(keys)["count"].sum()
    pd.testing.assert_series_equal(told, asked.groupby(keys)["count"].sum(), check_dtype=False)
    for name in ("shopping", "pick-list"):
        text = read(folder / f"{name}.pdf")[0]
        assert "the 4 yards that take part; not for the 2 yards that could join" in text
    nobody = replace(plan, yards=plan.yards.assign(role="candidate"))
    table = pd.read_csv(write_shopping(nobody, tmp_path / "all.csv"))
    assert table.loc[table["list"] == "whole group", "count"].sum() == all_plantings["count"].sum()
    assert set(table["list"]) == {"whole group", "yard"}


def test_what_is_bought_covers_plan_and_spares(shopping, plan):
    """Plugs come in trays of 50, 10 % are spares (both common practice); cost is of what is bought."""
    for row in shopping["whole group"].to_dict(orient="records"):
        assert row["spares"] == math.ceil(row["count"] * SPARE_SHARE[row["form"]] - 1e-9)
        if row["form"] == "seed":  # bought in packets, the last of which may be used in part
            each = plants_a_packet(plan.knowledge.plants.loc[row["plant"], "spacing_m"])
            assert each * (row["packets"] - 1) < row["to_buy"] <= each * row["packets"] + 1e-6
        else:
            assert row["packets"] == 0
            assert row["to_buy"] == int(row["trays"]) * TRAY + int(row["singles"])
        assert row["to_buy"] >= row["count"] + row["spares"]
        assert float(row["cost"]) == pytest.approx(float(row["cost_each"]) * row["to_buy"])


@pytest.mark.parametrize(
    ("count", "form", "expected"),
    [
        (60, "plug", (6, 66, 1, 16)),  # 66 plugs: a tray and 16
        (30, "plug", (3, 50, 1, 0)),  # 33 would leave more than half a tray open
        (200, "plug", (20, 220, 4, 20)),
        (10, "bare root", (1, 11, 0, 11)),  # 5 % of 10 is half a plant
        (18, "pot", (0, 18, 0, 18)),
    ],
)
def test_trays_spares_and_singles(count, form, expected):
    """Worked by head."""
    assert tuple(how_to_buy(count, form)[k] for k in ("spares", "to_buy", "trays", "singles")) == expected


def test_growers_are_looked_up(shopping):
    rows = shopping["whole group"].set_index("plant")
    short = rows.loc["Asclepias incarnata"]
    assert short["growers"] == "40 in stock, Apr–May"
    assert short["note"] == f"{short['to_buy'] - 40} plants short: order early" + (
        "" if short["substitutes"] == "none found" else ", or take a substitute"
    )
    assert rows.loc["Monarda fistulosa", "growers"] == "on the list"
    for plant in ("Zizia aurea", "Phlox divaricata"):
        assert rows.loc[plant, "growers"] == "not on the list"
        assert rows.loc[plant, "note"] == "not on the growers' list: ask early"


def test_seed_windows_are_those_of_the_plant_table(shopping, plan):
    plants = plan.knowledge.plants
    told = 0
    for row in shopping["whole group"].itertuples():
        known = plants.loc[row.plant]
        if pd.isna(known["seed_collect_start_month"]) or "seed" not in str(known["propagation"]):
            assert row.seed_collecting == ""
            continue
        told += 1
        first, last = (int(known[f"seed_collect_{end}_month"]) for end in ("start", "end"))
        months = SHORT_MONTHS[first - 1] + (f"–{SHORT_MONTHS[last - 1]}" if first != last else "")
        assert row.seed_collecting.startswith(f"{months}, only with the landowner's leave")
        days = known["cold_stratification_days"]
        assert (f"cold for {days:.0f} days" in row.seed_collecting) == (pd.notna(days) and days > 0)
    assert told >= 4


def test_substitutes_feed_the_same_butterflies(shopping, plan):
    hosts = plan.knowledge.host_plants
    eaters = {p: set(rows["butterfly"]) for p, rows in hosts.groupby("plant")}
    wishes = set(plan.yard_butterflies["butterfly"])
    named = 0
    for row in shopping["whole group"].itertuples():
        fed = eaters.get(row.plant, set()) & wishes
        for name in re.findall(r"\(([A-Z][a-z]+ [a-z-]+)\)", row.substitutes):
            named += 1
            assert name != row.plant
            assert not fed or fed & eaters.get(name, set())
    assert named >= 4


def test_the_printed_list_tells_the_same(folder, shopping):
    text = read(folder / "shopping.pdf")[0]
    rows = shopping["whole group"]
    for row in rows.itertuples():
        assert f"{row.common_name} {row.plant}" in text
    assert f"{rows['to_buy'].sum()} plants to buy" in text
    assert "bare root, year 2 4 5 5" in text  # spicebush: four planned, five bought, five singly


def test_each_household_picks_up_what_it_plants(folder, plantings):
    text = read(folder / "pick-list.pdf")[0]
    parts = re.split(r"\d+ Heron Lane Yard (\d{4}), ", text)[1:]
    picks = dict(zip(parts[::2], parts[1::2], strict=True))
    assert set(picks) == set(plantings["yard_id"])
    for yard, rows in plantings.groupby("yard_id"):
        assert picks[yard].startswith(f"{rows['count'].sum()} plants ")
        for (plant, form), same in rows.groupby(["plant", "form"]):
            words = "in seed, " if form == "seed" else as_bought(same)
            line = f"{same['count'].sum()} {same.iloc[0].common_name} {plant} {words}"
            assert line in picks[yard]


def test_shares_of_packets_add_up_to_what_is_bought(folder, shopping):
    text = read(folder / "pick-list.pdf")[0]
    for row in shopping["whole group"].to_dict(orient="records"):
        if row["form"] == "seed":
            shares = re.findall(rf"{row['plant']} in seed, ([\d.]+) packet", text)
            assert row["packets"] - 1 < sum(map(float, shares)) <= row["packets"] + 0.1 * len(shares)


@pytest.mark.parametrize("name", ["shopping", "pick-list", "count-form"])
def test_no_text_is_smaller_than_seven_points(folder, name):
    text, sizes = read(folder / f"{name}.pdf")
    assert [entry for entry in sizes if entry[0] < 6.99] == []
    assert "For this household and the group: please do not publish or pass on." in text


def test_the_count_form_names_every_butterfly_and_its_plants(folder, plan):
    text = read(folder / "count-form.pdf")[0]
    names = plan.knowledge.butterflies["common_name"]
    for butterfly in set(plan.yard_butterflies["butterfly"]):
        assert names[butterfly] in text
    for words in (
        "Write 0 where you looked",
        "swamp milkweed",
        "northern spicebush",
        "Minutes spent looking",
    ):
        assert words in text


@pytest.fixture(scope="module")
def counted(folder, plan, tmp_path_factory):
    """Give the request of a study that reads the form, filled in for two yards, with the plan's own yards."""
    home = tmp_path_factory.mktemp("counted")
    plan.yards[["yard_id", "geometry"]].to_crs(4326).to_file(home / "yards.geojson")
    form = (folder / "count-form.csv").read_text(encoding="utf-8-sig")
    assert form.strip() == "date,yard_id,butterfly,stage,count,minutes"
    rows = (
        "2026-06-15,0007,Danaus plexippus,egg,4,12",
        "2026-06-15,0007,monarch,caterpillar,2,12",
        "2026-06-15,0007,spicebush swallowtail,adult,0,12",
        "2026-07-15,0030,pearl crescent,adult,3,10",
    )
    (home / "counts.csv").write_text(form + "\n".join(rows) + "\n", encoding="utf-8-sig")
    (home / "study.toml").write_text(
        '[study]\nname = "Counts"\ndate = 2026-08-01\ncrs = "EPSG:32617"\n'
        '[layers.yards]\npath = "yards.geojson"\n[layers.sightings]\npath = "counts.csv"\n',
        encoding="utf-8",
    )
    return read_layers(read_study(home / "study.toml"))


def test_the_count_form_reads_back_as_sightings(counted):
    layer = counted.vectors["sightings"]
    assert (layer.rows_in, layer.used + layer.repaired, len(layer.set_aside)) == (4, 4, 0)
    assert layer.frame["yard_id"].tolist() == ["0007", "0007", "0007", "0030"]
    assert layer.frame["count"].tolist() == [4, 2, 0, 3]
    assert layer.frame["minutes"].tolist() == [12, 12, 12, 10]
    assert layer.frame["stage"].tolist() == ["egg", "caterpillar", "adult", "adult"]
    assert pd.to_datetime(layer.frame["date"]).dt.strftime("%Y-%m-%d").tolist()[::3] == [
        "2026-06-15",
        "2026-07-15",
    ]


def test_what_was_counted_is_placed_and_zero_stays_zero(counted, plan):
    walks = walks_of(counted, plan.knowledge)
    assert walks.notes == ()
    assert walks.rows["place"].tolist() == ["0007", "0007", "0007", "0030"]
    assert walks.rows["butterfly"].tolist() == [
        "Danaus plexippus",
        "Danaus plexippus",
        "Papilio troilus",
        "Phyciodes tharos",
    ]
    assert walks.rows["count"].tolist() == [4, 2, 0, 3]
    assert walks.rows["breeding"].tolist() == [True, True, False, False]
    assert set(map(tuple, walks.visits.to_numpy())) == {("0007", 6), ("0030", 7)}

"""The tables of every region: each cell, each row, and the tables against each other, by plain reading."""

import re

import geopandas as gpd
import pytest
from shapely import Point, Polygon

from tests.support.regions import (
    FOLDERS,
    SHARED,
    STATES,
    about,
    belongs,
    brood_numbers,
    half_months_of,
    hosts_by_plant,
    parts,
    read,
    table,
    window,
    windows,
)

PLAIN = {"memory", "common practice", "judgement"}
"""Words that are no sources: what was never read anywhere."""

CHOICES = {
    "plants": {
        "sun_top_kind": "none memory published",
        "leaf_habit": "evergreen deciduous dies_back spring_only biennial summer_annual winter_annual",
        "night_flower": "none pale_scented open_day_and_night opens_at_night",
        "night_tongue": "any long short",
        "companions_why": "root_hemiparasite",
        "flower_color": "none white yellow orange red pink purple blue green brown",
        "flower_color_source_kind": "memory published",
    },
    "butterflies": {
        "kind": "butterfly moth",
        "flies": "day dusk night",
        "eggs_on": "leaf new_growth bud flower twig litter stem any",
        "adult_food": "none nectar sap mud dung rotting_fruit",
        "where_overwinters": "leaf_litter on_stem bark host away_from_host soil",
        "feeds_before_winter": "true false",
        "winter_stage": "egg larva larva_young larva_1st_instar larva_3rd_instar larva_4th_instar "
        "larva_half_grown larva_full_grown pupa adult none_migrates unknown",
        "pupates": "soil litter on_host on_stem bark other",
        "gregarious": "no small_groups when_young before_winter always",
        "brood_plants_factor": "1 2",
        "needs_record": "true false",
    },
    "hosts": {
        "lays": "yes no doubtful",
        "eaten_when": "any after_winter older_caterpillars",
        "part_eaten": "leaf new_growth bud flower pod catkin fallen_leaf stem root",
    },
}
CANNOT_CLOSE = {
    ("south-central", "Pontia protodice"): "no native mustard of the tables is green in August and September",
    ("south-central", "Hermeuptychia sosybius"): "published hosts are lawn grasses; all ours are doubtful",
    ("south-central", "Erynnis funeralis"): "vetch is gone by June; alfalfa and indigo are not in the tables",
    ("south-central", "Schinia florida"): "the one evening primrose of the tables has flowered by August",
}
"""Kinds that no set of the region's plants can feed all year: told, not hidden."""

TABLES = [(r, n) for r in FOLDERS for n in ("plants", "butterflies", "hosts", "lookalike_warnings")]
SOURCES = set(read(SHARED / "sources.csv")["key"])


def keys_of(text):
    """Return the keys that a source names, without what stands in brackets."""
    return set(parts(re.sub(r"\([^()]*\)", "", text)))


def every_table():
    for folder in (SHARED, *FOLDERS.values()):
        for path in sorted(folder.glob("*.csv")):
            if path.name not in ("sources.csv", "judgements.csv"):
                yield pytest.param(path, id=f"{folder.name}-{path.stem}")


@pytest.mark.parametrize("path", every_table())
def test_every_row_names_known_sources_or_says_memory(path):
    rows = read(path)
    pairs = [c for c in rows.columns if c.endswith("source") and f"{c}_kind" in rows.columns]
    assert pairs
    for column in pairs:
        for source, kind in zip(rows[column], rows[f"{column}_kind"], strict=True):
            assert keys_of(source), (path.name, source)
            assert keys_of(source) <= SOURCES | PLAIN, (path.name, source)
            assert kind in ("published", "memory"), (path.name, source, kind)
            assert kind == "memory" or keys_of(source) - PLAIN, (path.name, source)


def test_a_source_stands_once_and_says_what_it_is():
    sources = read(SHARED / "sources.csv")
    assert sources["key"].is_unique
    assert (sources["citation"].str.len() > 10).all()


@pytest.mark.parametrize(("region", "name"), TABLES)
def test_keys_are_unique_and_of_this_region(region, name):
    rows = table(region, name)
    key = {"hosts": ["scientific_name", "host_taxon"]}.get(name, [rows.columns[0]])
    key = ["native_taxon", "lookalike_scientific_name"] if name == "lookalike_warnings" else key
    assert not rows.duplicated(key).any()
    if "region" in rows:
        assert set(rows["region"]) == {region}


@pytest.mark.parametrize(("region", "name"), [t for t in TABLES if t[1] in CHOICES])
def test_words_are_among_those_that_the_notes_allow(region, name):
    rows = table(region, name)
    for column, allowed in CHOICES[name].items():
        used = {p for cell in rows[column] for p in parts(cell)}
        assert used <= set(allowed.split()), column
        blank = {"night_tongue", "companions_why", "feeds_before_winter"}
        assert column in blank or (rows[column] != "").all(), column


@pytest.mark.parametrize("region", FOLDERS)
def test_the_region_file_is_whole(region):
    facts = about(region)
    outline = Polygon(facts["bounds"]["outline"])
    assert outline.is_valid
    assert set(facts["states"]) <= set(STATES)
    for state in facts["states"]:
        assert outline.intersects(STATES[state])
        assert 1 <= facts["locating"]["business_days"][state] <= 10
        assert facts["locating"]["source"][state] in SOURCES | PLAIN
    assert set(facts["widespread"]) <= set(table(region, "butterflies")["scientific_name"])
    assert facts["natural_regions"]
    assert 1 <= facts["season_months"][0] < facts["season_months"][1] <= 12
    assert all(facts["poison_help"].values())
    for part in (facts["bounds"], facts["poison_help"]):
        assert part["source"] in SOURCES | PLAIN


def test_regions_do_not_meet_and_a_desert_is_in_none():
    outlines = {r: Polygon(about(r)["bounds"]["outline"]) for r in FOLDERS}
    names = list(outlines)
    for i, one in enumerate(names):
        assert not outlines[one].contains(Point(-112.0, 33.5))  # Arizona
        assert all(not outlines[one].intersects(outlines[other]) for other in names[i + 1 :])
    assert outlines["south-central"].contains(Point(-98.3, 30.2))  # limestone upland
    assert outlines["south-central"].contains(Point(-96.8, 32.6))  # black clay
    assert outlines["south-central"].contains(Point(-98.0, 33.0))  # sandy loam


def test_state_outlines_have_the_published_land_areas():
    """Land area of states [km2], US Census Bureau 2010, from memory; outlines have lakes and rivers too."""
    frame = gpd.GeoSeries(STATES, crs=4326).to_crs(5070).area / 1e6
    assert len(frame) == 49
    for state, land in {
        "OH": 105829,
        "IN": 92789,
        "KY": 102269,
        "OK": 177660,
        "TX": 676587,
        "PA": 115883,
    }.items():
        assert land * 0.995 < frame[state] < land * 1.03, state
    assert STATES["OH"].contains(Point(-82.98, 39.98))
    assert STATES["AZ"].contains(Point(-112.07, 33.45))


@pytest.mark.parametrize("region", FOLDERS)
def test_every_host_row_stands_for_a_plant_and_a_kind(region):
    plants = table(region, "plants").to_dict("records")
    flies = set(table(region, "butterflies")["scientific_name"])
    for row in table(region, "hosts").to_dict("records"):
        assert row["scientific_name"] in flies, row
        assert any(belongs(p, row["rank"], row["host_taxon"]) for p in plants), row
        assert row["lays"] != "doubtful" or row["doubt"], row
        assert row["lays"] != "no" or row["eaten_when"] != "any", row


@pytest.mark.parametrize("region", FOLDERS)
def test_every_kind_has_a_primary_host_and_hosts_are_flagged(region):
    hosts = hosts_by_plant(region)
    for name in table(region, "butterflies")["scientific_name"]:
        assert any(k[0] == name and r["use"] == "primary" for k, r in hosts.items()), name
    flagged = table(region, "plants").set_index("scientific_name")["is_host"] == "true"
    laid_on = {plant for (_, plant), row in hosts.items() if row["lays"] == "yes"}
    assert laid_on <= set(flagged.index[flagged])
    assert set(flagged.index[flagged]) <= {plant for _, plant in hosts}


@pytest.mark.parametrize("region", FOLDERS)
def test_windows_and_broods_fit_each_other(region):
    for row in table(region, "butterflies").to_dict("records"):
        name, count = row["scientific_name"], int(row["broods_per_year"])
        for stage in ("egg", "feeding"):
            spans, broods = parts(row[f"{stage}_windows"]), brood_numbers(row[f"{stage}_broods"])
            assert len(spans) == len(broods), name
            assert all(window(s) for s in spans)
            assert set().union(*broods) == set(range(1, count + 1)), (name, stage)
        assert windows(row["flight_windows"])
        assert windows(row["egg_windows"]) <= windows(row["flight_windows"]), name


@pytest.mark.parametrize("region", FOLDERS)
def test_adults_fly_in_their_flight_months(region):
    """A winter form and a winter flight go beyond the months, which do not go over the turn of the year."""
    for row in table(region, "butterflies").to_dict("records"):
        first, last = int(row["flight_start_month"]), int(row["flight_end_month"])
        months = {s // 2 + 1 for s in windows(row["flight_windows"])}
        winters = row["winter_stage"] == "adult"
        assert winters or months <= set(range(first, last + 1)), row["scientific_name"]


@pytest.mark.parametrize("region", FOLDERS)
def test_winter_words_agree(region):
    for row in table(region, "butterflies").to_dict("records"):
        stage, fine = row["overwinter_stage"], row["winter_stage"]
        assert fine.split("_")[0] in ("unknown", stage, {"migrates": "none"}.get(stage)), row[
            "scientific_name"
        ]
        assert (row["feeds_before_winter"] == "") == (stage == "migrates"), row["scientific_name"]
        if row["feeds_before_winter"] == "false":
            assert fine in ("egg", "larva_1st_instar"), row["scientific_name"]
            rests = about(region)["winter_rest_months"]
            assert not {s // 2 + 1 for s in windows(row["feeding_windows"])} & set(rests)


@pytest.mark.parametrize("region", FOLDERS)
def test_nothing_is_eaten_before_it_is_laid_and_some_plants_can_feed_every_kind(region):
    """For each kind: an egg place in every egg window and food in every feeding half-month."""
    season = about(region)["season_months"][0]
    plants = table(region, "plants").set_index("scientific_name", drop=False).to_dict("index")
    hosts, cannot = hosts_by_plant(region), set()
    for fly in table(region, "butterflies").to_dict("records"):
        mine = {
            p: r for (f, p), r in hosts.items() if f == fly["scientific_name"] and r["lays"] != "doubtful"
        }
        food, eggs = set(), set()
        for name, row in mine.items():
            food |= {s for k in parts(row["part_eaten"]) for s in half_months_of(plants[name], k, season)}
            if row["lays"] == "yes":
                eggs |= {s for k in parts(fly["eggs_on"]) for s in half_months_of(plants[name], k, season)}
        if not (windows(fly["feeding_windows"]) <= food and windows(fly["egg_windows"]) <= eggs):
            cannot.add((region, fly["scientific_name"]))
    assert cannot == {k for k in CANNOT_CLOSE if k[0] == region}


@pytest.mark.parametrize("region", FOLDERS)
def test_annuals_say_when_they_are_up_and_leaf_months_agree(region):
    for plant in table(region, "plants").to_dict("records"):
        leaf, habit = windows(plant["leaf_windows"]), plant["leaf_habit"]
        months = set(range(int(plant["leaf_start_month"]), int(plant["leaf_end_month"]) + 1))
        assert habit in ("winter_annual", "dies_back") or {s // 2 + 1 for s in leaf} <= months
        assert (len(leaf) == 24) == (habit == "evergreen"), plant["scientific_name"]
        assert (plant["life_span"] == "annual") == habit.endswith("annual"), plant["scientific_name"]


def test_an_annual_that_is_up_in_june_feeds_no_checkerspot_in_april():
    region = "ohio-valley-mid-atlantic"
    plants = table(region, "plants").set_index("scientific_name")
    fly = table(region, "butterflies").set_index("scientific_name").loc["Euphydryas phaeton"]
    lacking = windows(fly["feeding_windows"]) - windows(plants.loc["Agalinis purpurea", "leaf_windows"])
    assert window("04a-05b") <= lacking
    assert windows(fly["feeding_windows"]) <= windows(plants.loc["Chelone glabra", "leaf_windows"])
    assert hosts_by_plant(region)[("Euphydryas phaeton", "Agalinis purpurea")]["lays"] == "doubtful"


@pytest.mark.parametrize("region", FOLDERS)
def test_root_hemiparasites_carry_their_company(region):
    plants = table(region, "plants").to_dict("records")
    for plant in plants:
        assert (plant["family"] == "Orobanchaceae") == (plant["companions_why"] == "root_hemiparasite")
        for taxon in parts(plant["companions"]):
            assert any(
                taxon in (p["scientific_name"], p["scientific_name"].split()[0], p["family"]) for p in plants
            )


@pytest.mark.parametrize("region", FOLDERS)
def test_native_states_are_states_and_every_plant_has_them(region):
    """What the region's column says is the nation-wide record cut to its states, but for one named row."""
    kept = {"Solidago sempervirens": {"OH", "IN"}}  # adventive along salted roads: judgements.csv
    native = read(SHARED / "native_states.csv").set_index("scientific_name")
    outside = {"AK", "HI"}
    assert set(" ".join(native["native_states"]).split()) <= set(STATES) | outside
    for row in native.to_dict("records"):
        assert set(row["doubtful_states"].split()) <= set(row["native_states"].split())
        assert not row["doubtful_states"] or row["state_level_doubt"]
    states = set(about(region)["states"])
    for plant in table(region, "plants").to_dict("records"):
        name = plant["scientific_name"]
        here = set(native.loc[name, "native_states"].split()) & states
        assert here, name
        assert set(plant["recorded_native_states"].split()) == here - kept.get(name, set()), name


def test_every_plant_with_a_hazard_has_a_class_and_memory_counts_one_step_stricter():
    ladder = ["none", "tell", "gloves", "keep_away", "ask", "bar"]
    stricter = dict(zip(ladder, ["tell", "keep_away", "keep_away", "ask", "bar", "bar"], strict=True))
    classes = read(SHARED / "hazard_classes.csv").set_index("scientific_name")
    for region in FOLDERS:
        plants = table(region, "plants")
        assert set(plants.loc[plants["hazards"] != "none", "scientific_name"]) <= set(classes.index)
    for row in classes.to_dict("records"):
        assert set(parts(row["class_four"])) <= {"1", "2", "3", "4"}
        assert set(parts(row["exposure"])) <= {"eaten", "skin", "thorns", "animals"}
        assert row["nrcs_toxicity"] in ("", "none", "slight", "moderate", "severe")
        assert row["stock_action"] in ladder
        published = row["source_kind"] == "published"
        assert published == (row["class_basis"] == "published")
        for who in ("children", "pets"):
            action = row[f"{who}_action"]
            assert row[f"{who}_counted"] == (action if published else stricter[action])


def test_a_milkweed_in_a_family_yard_is_a_question_and_not_a_ban():
    classes = read(SHARED / "hazard_classes.csv").set_index("scientific_name")
    milkweeds = classes[classes.index.str.startswith("Asclepias ")]
    assert len(milkweeds) >= 10
    assert set(milkweeds["children_counted"]) <= {"keep_away", "ask"}


def test_every_plant_says_how_it_spreads_and_what_holds_it():
    spread = read(SHARED / "spread_classes.csv").set_index("scientific_name")
    grades = {"clumps", "self_sows", "creeps", "runs", "suckers", "seeds_freely"}
    assert set(spread["grade"]) == grades
    assert set(spread["lawn_edge"]) == {"true", "false"}
    held = spread["grade"].isin(["runs", "suckers", "seeds_freely", "creeps"])
    assert (spread.loc[held, "contained_by"] != "").all()
    given = spread[spread["m_per_year_low"] != ""]
    assert (given["m_per_year_low"].astype(float) <= given["m_per_year_high"].astype(float)).all()
    for region in FOLDERS:
        assert set(table(region, "plants")["scientific_name"]) <= set(spread.index)
    assert spread.loc["Viola sororia", "lawn_edge"] == "true"


@pytest.mark.parametrize("region", FOLDERS)
def test_look_alikes_are_no_plants_of_the_region_and_name_one_instead(region):
    plants = set(table(region, "plants")["scientific_name"])
    rows = table(region, "lookalike_warnings")
    assert not set(rows["lookalike_scientific_name"]) & plants
    assert set(rows["plant_instead"]) <= plants | {""}


def test_shared_names_lead_to_something_and_old_names_are_not_in_use():
    names = {n for r in FOLDERS for t in ("plants", "butterflies") for n in table(r, t)["scientific_name"]}
    looks = {n for r in FOLDERS for n in table(r, "lookalike_warnings")["lookalike_scientific_name"]}
    synonyms = read(SHARED / "synonyms.csv")
    assert synonyms["old_name"].is_unique
    assert set(synonyms["accepted_name"]) <= names | looks
    assert not set(synonyms["old_name"]) & names


@pytest.mark.parametrize("region", FOLDERS)
def test_every_stage_of_every_kind_is_described(region):
    stages = read(SHARED / "stages.csv")
    known = set(zip(stages["taxon"], stages["stage"], strict=True))
    for fly in table(region, "butterflies").to_dict("records"):
        taxa = {fly["scientific_name"], fly["scientific_name"].split()[0], fly["family"]}
        for stage in ("egg", "larva", "pupa"):
            assert any((t, stage) in known for t in taxa), (fly["scientific_name"], stage)


@pytest.mark.parametrize("region", FOLDERS)
def test_regional_rules_stand_in_place_of_shared_ones_of_the_same_unit(region):
    shared = read(SHARED / "practice.csv").set_index("id")
    path = FOLDERS[region] / "practice.csv"
    for row in read(path).to_dict("records") if path.exists() else []:
        assert row["unit"] == shared.loc[row["id"], "unit"]
        assert float(row["value"]) >= 0


@pytest.mark.parametrize("region", FOLDERS)
def test_what_was_judged_is_what_stands_in_the_tables(region):
    """The last judgement on a value that was followed is its value today, unless a later one moved it."""
    last = {}
    for row in table(region, "judgements").to_dict("records"):
        assert row["decision"] in ("followed", "kept")
        assert row["reason"]
        assert row["source"] in SOURCES | PLAIN, row
        last[(row["table"], row["row"], row["column"])] = row
    checked = 0
    for (name, key, column), row in last.items():
        rows = table(region, name)
        if name == "hosts" or column not in rows or row["decision"] == "kept":
            continue
        now = rows.set_index("scientific_name").loc[key, column]
        same = now == row["new"] or (
            now and row["new"] and column != "checked_fields" and float(now) == float(row["new"])
        )
        assert same or column == "checked_fields", (key, column, now, row["new"])
        checked += 1
    assert checked > 10


def test_a_word_for_a_genus_names_genera_of_the_tables():
    genera = {n.split()[0] for r in FOLDERS for n in table(r, "plants")["scientific_name"]}
    words = read(SHARED / "genus_words.csv")
    assert words["word"].is_unique
    assert (words["word"] == words["word"].str.lower()).all()
    assert set(words["certainty"]) == {"sure", "likely"}
    for cell in words["genus"]:
        assert set(parts(cell)) <= genera
    found = words.set_index("word")["genus"]
    assert (found["oak"], found["willow"], found["milkweed"]) == ("Quercus", "Salix", "Asclepias")

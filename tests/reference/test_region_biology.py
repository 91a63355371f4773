"""The regions' tables against what others published: life histories, traits, characteristics of plants.

life_histories.csv
    25 life histories, each from the accounts that its row names (mostly Opler and others, Butterflies of
    North America, USGS; HOSTS, Natural History Museum, London); ``memory_fields`` names what no source gave:
    nearly all feeding windows. ``3+`` where sources say "several".
leptraits_check.csv
    LepTraits 1.0 (Shirey and others 2022, Scientific Data 9): broods, flight months, winter stage, host
    families, range-wide; and Ohio monitoring (Wepprich and others 2019, 2024): generations, winter stage.
nrcs_classes.csv, nrcs_contradictions.csv
    USDA NRCS, plant characteristics: classes of shade, moisture, drought, anaerobic ground and salt; and 155
    values of the first region that a class or value contradicted.
"""

import pytest

from tests.support.regions import FOLDERS, REFERENCE, hosts_by_plant, parts, read, table

HISTORIES = read(REFERENCE / "life_histories.csv").to_dict("records")
TRAITS = read(REFERENCE / "leptraits_check.csv").to_dict("records")
CLASSES = read(REFERENCE / "nrcs_classes.csv").to_dict("records")
CONTRADICTIONS = read(REFERENCE / "nrcs_contradictions.csv").to_dict("records")
OHIO, TEXAS = "ohio-valley-mid-atlantic", "south-central"


def ids(rows):
    return [f"{r['scientific_name']}-{r.get('region', '')[:4]}-{i}" for i, r in enumerate(rows)]


@pytest.fixture(scope="module")
def flies():
    return {r: table(r, "butterflies").set_index("scientific_name") for r in FOLDERS}


@pytest.fixture(scope="module")
def plants():
    return {r: table(r, "plants").set_index("scientific_name", drop=False) for r in FOLDERS}


@pytest.fixture(scope="module")
def hosts():
    return {r: hosts_by_plant(r) for r in FOLDERS}


NOT_FOLLOWED = {
    ("Euphydryas phaeton", "egg_hosts", "Agalinis purpurea"): "the row itself says: larvae seen only",
    ("Euptoieta claudia", "flight_windows", ""): "New Jersey accounts (NABA-NJ) give May; April is memory",
    ("Euptoieta claudia", "broods", ""): "Ohio monitoring counts two; three is for the north as a whole",
    (
        "Dione vanillae",
        "flight_windows",
        "",
    ): "December is memory in both; no plan can promise it nectar then",
    ("Hermeuptychia sosybius", "flight_windows", ""): "USGS gives April to October; late March is memory",
}
"""Where the tables say otherwise than a life history, and why."""


def taxa(cell):
    """Return the plant taxa of a cell, without remarks; what is named as food of adults only is left out."""
    named = [t for t in parts(cell) if "nectar only" not in t and not t.startswith("other ")]
    return [t.split(" (")[0].strip() for t in named]


def ours_of(plants, taxon):
    return [n for n in plants.index if taxon in (n, n.split()[0])]


@pytest.mark.parametrize("row", HISTORIES, ids=ids(HISTORIES))
def test_hosts_of_a_life_history(row, plants, hosts):
    """She lays on each egg host that is ours; on a later or doubtful host alone no cycle closes."""
    name, region = row["scientific_name"], row["region"]
    mine, ours = hosts[region], plants[region]
    laid = {p for t in taxa(row["egg_hosts"]) for p in ours_of(ours, t)}
    for plant in laid:
        excused = (name, "egg_hosts", plant) in NOT_FOLLOWED
        assert (mine[(name, plant)]["lays"] == "yes") != excused, plant
    for column in ("later_hosts", "doubtful_hosts"):
        for plant in {p for t in taxa(row[column]) for p in ours_of(ours, t)} - laid:
            assert (name, plant) not in mine or mine[(name, plant)]["lays"] != "yes", plant
    for plant in {p for t in taxa(row["later_hosts"]) for p in ours_of(ours, t)} - laid:
        assert mine[(name, plant)]["eaten_when"] != "any", plant


@pytest.mark.parametrize("row", HISTORIES, ids=ids(HISTORIES))
def test_what_caterpillars_of_a_life_history_eat_and_when(row, flies, hosts):
    name, region = row["scientific_name"], row["region"]
    fly = flies[region].loc[name]
    eaten = {r["part_eaten"] for (f, _), r in hosts[region].items() if f == name and r["lays"] == "yes"}
    assert all(set(parts(cell)) == set(parts(row["part_eaten"])) for cell in eaten)
    assert fly["feeding_windows"] == row["feeding_windows"]
    excused = (name, "flight_windows", "") in NOT_FOLLOWED
    assert (fly["flight_windows"] == row["flight_windows"]) != excused
    assert fly["feeds_before_winter"] == {"n/a": ""}.get(
        row["feeds_before_winter"], row["feeds_before_winter"]
    )


@pytest.mark.parametrize("row", HISTORIES, ids=ids(HISTORIES))
def test_winter_crowds_and_broods_of_a_life_history(row, flies):
    name = row["scientific_name"]
    fly = flies[row["region"]].loc[name]
    assumed = fly["winter_stage"] == "unknown" and "assumed" in fly["doubt"]
    assert fly["winter_stage"] == row["overwinters_as"] or (
        assumed and "overwinters_as" in row["memory_fields"]
    )
    assert fly["where_overwinters"] == row["winter_place"] or (assumed and row["winter_place"] == "unknown")
    crowds = {"false": "no", "true_when_young": "when_young", "true_before_winter": "before_winter"}
    assert fly["gregarious"] == crowds.get(row["gregarious"], row["gregarious"])
    low, _, high = row["broods"].replace("+", "-9").partition("-")
    excused = (name, "broods", "") in NOT_FOLLOWED
    assert (int(low) <= int(fly["broods_per_year"]) <= int(high or low)) != excused


def test_every_exception_is_still_one():
    names = {r["scientific_name"] for r in HISTORIES}
    assert {name for name, _, _ in NOT_FOLLOWED} <= names


TRAITS_NOT_FOLLOWED = {
    (OHIO, "Celastrina neglecta", "flight"): "USGS gives October; the trait data lump other azures",
    (TEXAS, "Calephelis nemesis", "flight"): "too few records in the trait data",
    (TEXAS, "Erynnis funeralis", "flight"): "USGS gives March to December",
    (TEXAS, "Burnsius albescens", "flight"): "a museum account gives the whole year",
    (TEXAS, "Euphyes vestris", "flight"): "USGS gives March to October for Texas",
    (OHIO, "Calycopis cecrops", "hosts"): "a collection account and many lists name sumac",
    (TEXAS, "Calycopis cecrops", "hosts"): "many lists name sumac",
    (TEXAS, "Papilio glaucus", "hosts"): "tuliptree does not grow there",
}


@pytest.mark.parametrize("row", TRAITS, ids=ids(TRAITS))
def test_traits_of_a_butterfly(row, flies, plants, hosts):
    """Not more broods, no flight outside the flagged months, the same winter stage, a main host family."""
    region, name = row["region"], row["scientific_name"]
    fly = flies[region].loc[name]
    found = set()
    most = {"U": 1, "B": 2, "M": 9}[row["voltinism_leptraits"]]
    if int(fly["broods_per_year"]) > most:
        found.add("broods")
    months = [int(m) for m in row["flight_leptraits"].replace("NA", "").split()]
    if months and not (
        months[0] <= int(fly["flight_start_month"]) and int(fly["flight_end_month"]) <= months[-1]
    ):
        found.add("flight")
    stages = parts(row["winter_stage_leptraits"].replace("NA", ""))
    if stages and fly["overwinter_stage"] not in (*stages, "migrates"):
        found.add("winter")
    families = [f for f in parts(row["host_family_leptraits"]) if f.endswith("aceae")]
    eaten = {
        plants[region].loc[p, "family"]
        for (f, p), r in hosts[region].items()
        if f == name and r["lays"] == "yes"
    }
    if families and not eaten & set(families):
        found.add("hosts")
    assert found == {what for r, n, what in TRAITS_NOT_FOLLOWED if (r, n) == (region, name)}


@pytest.mark.parametrize("row", [r for r in TRAITS if r["ohio_winter_stage"]])
def test_winter_stages_of_ohio_monitoring(row, flies):
    """The question mark winters here in part (published life history); Ohio calls it an immigrant."""
    stage = row["ohio_winter_stage"]
    ours = flies[OHIO].loc[row["scientific_name"], "overwinter_stage"]
    some_stay = row["scientific_name"] == "Polygonia interrogationis"
    assert ours == ("migrates" if "immigrant" in stage and not some_stay else stage.split(" ")[0])


def test_where_ohio_counts_the_same_broods_it_is_named_as_the_source(flies):
    agree = [r for r in TRAITS if r["ohio_agrees"] == "agrees"]
    assert len(agree) > 20
    for row in agree:
        fly = flies[OHIO].loc[row["scientific_name"]]
        assert int(fly["broods_per_year"]) == int(float(row["ohio_generations"]))
        assert "OHIO-MON" in fly["source"]


CLASSES_NOT_FOLLOWED = {
    (OHIO, "Symphyotrichum cordifolium", "shade"): "a woodland aster by floras and by use",
    (OHIO, "Symphyotrichum lateriflorum", "shade"): "lives in open woods and at their edges",
    (TEXAS, "Tridens flavus", "shade"): "grows at wood edges",
    (OHIO, "Monarda fistulosa", "wet"): "the wetland list rates it UPL",
    (OHIO, "Monarda fistulosa", "dry"): "the wetland list rates it UPL; dry prairie",
    (OHIO, "Vernonia noveboracensis", "wet"): "the wetland list rates it FACW",
    (OHIO, "Symphyotrichum lateriflorum", "wet"): "the wetland list rates it FACW",
    (OHIO, "Helianthus angustifolius", "wet"): "the wetland list rates it FACW",
    (TEXAS, "Amorpha fruticosa", "wet"): "the wetland list rates it FACW",
    (TEXAS, "Ilex vomitoria", "wet"): "the wetland list rates it FAC",
    (TEXAS, "Ulmus crassifolia", "wet"): "the wetland list rates it FAC",
    (OHIO, "Rudbeckia laciniata", "dry"): "the wetland list rates it FACW",
    (OHIO, "Phlox subulata", "dry"): "a plant of rock and shale",
    (TEXAS, "Salvia azurea", "dry"): "its class of low drought tolerance is wrong there",
    (TEXAS, "Verbesina encelioides", "dry"): "far hardier to drought than its class",
    (OHIO, "Lobelia cardinalis", "moisture"): "the wetland list rates it FACW",
    (TEXAS, "Lobelia cardinalis", "moisture"): "the wetland list rates it FACW",
    (OHIO, "Rudbeckia laciniata", "moisture"): "the wetland list rates it FACW",
    (OHIO, "Phlox subulata", "moisture"): "a plant of rock and shale",
    (OHIO, "Vaccinium corymbosum", "salt"): "blueberries are among the plants most easily hurt by salt",
}


def against_classes(row, plant):
    """Return which classes a plant's ranges go against: one rule for both regions.

    Shade: intolerant plants need 4 h or more, intermediate ones 1 to 5 h, tolerant ones less than 4 h; the
    first two have no upper limit. Ground (ranks 1 very poorly to 7 excessively drained): anaerobic tolerance
    High bears rank 2, None nothing below 3; drought tolerance High bears 6, Low not 7, None not 6; moisture
    use High is at its best up to 4, Low from 5 on. Salt: full growth to the top of the class, None 2, Low 4,
    Medium 8, High over 8 dS/m.
    """
    columns = (
        "sun_min_h",
        "salt_full_ds_m",
        *(f"drainage_{c}" for c in ("min", "opt_low", "opt_high", "max")),
    )
    v = {column: float(plant[column]) for column in columns}
    shade, wet, dry = (row[f"nrcs_{c}_tolerance"] for c in ("shade", "anaerobic", "drought"))
    water, salt = row["nrcs_moisture_use"], row["nrcs_salinity_tolerance"]
    low, high = {"Intolerant": (4, 15), "Intermediate": (1, 5), "Tolerant": (0, 3.9)}.get(shade, (0, 15))
    top = {"None": 2, "Low": 4, "Medium": 8}.get(salt)
    wrong = {
        "shade": not low <= v["sun_min_h"] <= high
        or (shade in ("Intolerant", "Intermediate") and plant["sun_top_kind"] != "none"),
        "wet": (wet == "High" and v["drainage_min"] > 2) or (wet == "None" and v["drainage_min"] < 3),
        "dry": (dry == "High" and v["drainage_max"] < 6)
        or v["drainage_max"] > {"Low": 6, "None": 5}.get(dry, 7),
        "moisture": (water == "High" and v["drainage_opt_low"] > 4)
        or (water == "Low" and v["drainage_opt_high"] < 5),
        "salt": (top is not None and v["salt_full_ds_m"] != top)
        or (salt == "High" and v["salt_full_ds_m"] <= 8),
    }
    return {name for name, holds in wrong.items() if holds}


@pytest.mark.parametrize("row", CLASSES, ids=ids(CLASSES))
def test_ranges_agree_with_the_classes(row, plants):
    plant = plants[row["region"]].loc[row["scientific_name"]]
    key = (row["region"], row["scientific_name"])
    excused = {what for r, n, what in CLASSES_NOT_FOLLOWED if (r, n) == key}
    assert against_classes(row, plant) == excused


def test_an_upper_limit_of_sun_is_memory_or_none_and_common_violet_has_none(plants):
    for region in FOLDERS:
        for plant in plants[region].to_dict("records"):
            limited = float(plant["sun_max_h"]) < 15 or plant["sun_afternoon_max_h"] != ""
            assert (plant["sun_top_kind"] == "memory") == limited, plant["scientific_name"]
    violet = plants[OHIO].loc["Viola sororia"]
    assert (violet["sun_opt_high_h"], violet["sun_top_kind"]) == ("15", "none")


def test_each_contradicted_value_was_judged():
    """155 values: each is followed or kept, with a reason, in judgements.csv."""
    judged = {(r["row"], r["column"]): r for r in table(OHIO, "judgements").to_dict("records")}
    assert len(CONTRADICTIONS) == 155
    for row in CONTRADICTIONS:
        found = judged[(row["scientific_name"], row["field"])]
        assert found["reason"]
        if found["decision"] == "followed" and row["field"] in ("ph_min", "ph_max", "height_m"):
            assert float(found["new"]) == float(row["nrcs"])

"""A region is a folder: what it says of itself, its tables, and a third one from files alone."""

import csv
import re
from dataclasses import replace

import pytest
import shapely

from habitat.errors import KnowledgeError, MissingFileError
from habitat.knowledge import load_knowledge, resolve_butterflies, resolve_plants
from habitat.knowledge.names import butterfly_names, plant_names
from habitat.knowledge.region import SEASON, WINTER_REST, find_region, read_region, shipped_regions
from habitat.settings.knowledge import KnowledgeSettings

TINY = {
    "region.toml": """
id = "far-shore"
name = "the Far Shore"
states = ["XX"]
season_months = [3, 10]
widespread = ["Vanessa litoralis"]
[bounds]
outline = [[10, 50], [11, 50], [11, 51], [10, 51]]
[poison_help]
words = "Call the harbour doctor"
""",
    "plants.csv": """\
scientific_name,common_name,family,form,life_span,height_m,spread_m,spacing_m,sun_min_h,sun_opt_low_h,\
sun_opt_high_h,sun_max_h,ph_min,ph_opt_low,ph_opt_high,ph_max,drainage_min,drainage_opt_low,\
drainage_opt_high,drainage_max,texture_ok,rooting_depth_min_cm,bloom_start_month,bloom_end_month,\
nectar_value,is_host,aggressive_spread,hazards,propagation,seed_collect_start_month,seed_collect_end_month,\
cold_stratification_days,source,source_kind
Urtica litoralis,shore nettle,Urticaceae,forb,perennial,1,0.5,0.5,2,4,15,15,5,6,8,9,2,3,6,7,medium,20,6,9,2,\
true,false,none,seed,8,9,0,memory,memory
""",
    "butterflies.csv": """\
scientific_name,common_name,family,flight_start_month,flight_end_month,broods_per_year,overwinter_stage,\
where_overwinters,adult_food,habitat,typical_movement_low_m,typical_movement_median_m,\
typical_movement_high_m,mobility_class,source,source_kind
Vanessa litoralis,shore lady,Nymphalidae,5,8,1,pupa,leaf_litter,nectar,open,100,200,300,\
intermediate,memory,memory
""",
    "hosts.csv": """\
scientific_name,host_taxon,rank,use,source,source_kind
Vanessa litoralis,Urtica,genus,primary,memory,memory
""",
}


@pytest.fixture
def tiny(tmp_path):
    for name, text in TINY.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def of(region):
    return load_knowledge(KnowledgeSettings(region=region))


def test_a_third_region_is_files_alone(tiny):
    knowledge = load_knowledge(KnowledgeSettings(region_folder="."), tiny)
    assert knowledge.region.id == "far-shore"
    assert knowledge.region.season_months == (3, 10)
    assert knowledge.region.poison_help == "Call the harbour doctor"
    assert list(knowledge.plants.index) == ["Urtica litoralis"]
    assert list(knowledge.eaters_of("Urtica litoralis")["butterfly"]) == ["Vanessa litoralis"]
    assert knowledge.practice_value("milkweed_min") > 0  # shared tables stand beside


def test_a_folder_without_its_file_or_with_wrong_keys_is_refused(tiny):
    text = TINY["region.toml"]
    for wrong, told in (
        (text.replace('name = "the Far Shore"\n', ""), "name: must be text"),
        (text.replace("[3, 10]", "[0, 10]"), "season_months: must be months, 1 to 12, two of them"),
        (text.replace('["XX"]', '"XX"'), "states: must be a list of text"),
        (text.replace("[11, 50]", "[11, 500]"), "bounds.outline: must be"),
        (
            text.replace(
                "[[10, 50], [11, 50], [11, 51], [10, 51]]", "[[10, 50], [11, 51], [11, 50], [10, 51]]"
            ),
            "bounds.outline: must be",
        ),
        (text.replace("[bounds]", "bounds = 3\n[other]"), "must be tables"),
        ("id =", "region.toml: "),
    ):
        (tiny / "region.toml").write_text(wrong, encoding="utf-8")
        with pytest.raises(KnowledgeError, match=re.escape(told)):
            read_region(tiny)
    (tiny / "region.toml").unlink()
    with pytest.raises(MissingFileError, match=r"region\.toml"):
        load_knowledge(KnowledgeSettings(region_folder="."), tiny)


def test_shipped_regions_hold_their_middle_and_no_desert():
    for region in shipped_regions().values():
        middle = region.outline.representative_point()
        assert region.holds(middle.x, middle.y)
        assert not region.holds(-112.0, 33.5)  # Arizona
    assert not replace(find_region("nowhere"), outline=None).holds(0.0, 0.0)
    assert find_region("nowhere").name == "nowhere"


@pytest.mark.parametrize("region", sorted(shipped_regions()))
def test_whatever_a_name_resolves_to_is_in_the_tables(region):
    check_names(of(region))


def check_names(knowledge):
    """Every name that the index knows, and every name of the shared synonyms."""
    written = [*plant_names(knowledge), *butterfly_names(knowledge)]
    plants = {m.accepted for m in resolve_plants(written, knowledge)} - {None}
    assert plants <= set(knowledge.plants.index)
    flies = {m.accepted for m in resolve_butterflies(written, knowledge)} - {None}
    assert flies <= set(knowledge.butterflies.index)
    assert len(plants) == len(knowledge.plants)
    assert len(flies) == len(knowledge.butterflies)
    assert set(knowledge.hosts["butterfly"]) <= set(knowledge.butterflies.index)
    assert set(knowledge.host_plants["plant"]) <= set(knowledge.plants.index)
    for table in (knowledge.hazard_classes, knowledge.spread_classes, knowledge.native_states):
        assert set(table.index) <= set(knowledge.plants.index)


def test_own_rows_for_another_region_leave_no_name_behind(tmp_path):
    """A synonym of a plant that a study keeps for another region named a plant that was in no table."""
    shipped = of("ohio-valley-mid-atlantic")
    rows = shipped.plants.loc[["Symphyotrichum laeve", "Asclepias incarnata", "Viola sororia"]]
    rows.assign(region="elsewhere").to_csv(tmp_path / "plants.csv", index=False)
    own = load_knowledge(KnowledgeSettings(plants="plants.csv"), tmp_path)
    check_names(own)
    only = load_knowledge(
        KnowledgeSettings(
            region="elsewhere", plants="plants.csv", butterflies="flies.csv", hosts="hosts.csv"
        ),
        _with_monarch(tmp_path, shipped),
    )
    check_names(only)
    assert resolve_plants(["Aster laevis"], only)[0].accepted == "Symphyotrichum laeve"
    assert resolve_plants(["Aster novae-angliae"], only)[0].accepted is None


def _with_monarch(folder, shipped):
    shipped.butterflies.loc[["Danaus plexippus"]].assign(region="").to_csv(folder / "flies.csv", index=False)
    with (folder / "hosts.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(
            [
                ["scientific_name", "host_taxon", "rank", "use"],
                ["Danaus plexippus", "Asclepias", "genus", "primary"],
            ]
        )
    return folder


def test_two_regions_hold_other_values_of_one_plant():
    one, other = of("ohio-valley-mid-atlantic"), of("south-central")
    both = set(one.plants.index) & set(other.plants.index)
    assert len(both) >= 30
    assert any(
        one.plants.loc[p, "bloom_start_month"] != other.plants.loc[p, "bloom_start_month"] for p in both
    )
    assert not shapely.intersects(one.region.outline, other.region.outline)


def test_a_season_that_no_region_states_is_of_the_calendar():
    """Leaves and flowers where frost ends in April and comes back in October: common practice."""
    assert 1 <= SEASON[0] < SEASON[1] <= 12
    assert set(range(SEASON[0], SEASON[1] + 1)).isdisjoint(WINTER_REST)

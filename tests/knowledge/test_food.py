"""Egg to adult by half-month: parts of plants against a second reading, an invented cycle for each rule."""

import pandas as pd
import pytest

from habitat.knowledge import HostStand, close_life_cycle, load_knowledge
from habitat.knowledge.food import gaps, hosts_by_time, needs_of, part_slots, tasks, worth_by_task
from habitat.knowledge.months import slot_words, slots_of, windows
from habitat.knowledge.region import shipped_regions
from habitat.settings.knowledge import KnowledgeSettings
from tests.support.regions import half_months_of, table

REGIONS = sorted(shipped_regions())
PARTS = ("leaf", "stem", "new_growth", "bud", "flower", "catkin", "pod", "fallen_leaf", "root", "twig")
WHOLE_YEAR = range(1, 13)

PLANTS = """\
scientific_name,common_name,family,form,life_span,height_m,spread_m,spacing_m,sun_min_h,sun_opt_low_h,\
sun_opt_high_h,sun_max_h,ph_min,ph_opt_low,ph_opt_high,ph_max,drainage_min,drainage_opt_low,\
drainage_opt_high,drainage_max,texture_ok,rooting_depth_min_cm,bloom_start_month,bloom_end_month,\
nectar_value,is_host,aggressive_spread,hazards,propagation,seed_collect_start_month,seed_collect_end_month,\
cold_stratification_days,leaf_habit,leaf_windows
"""
REST = "1,0.5,0.5,2,4,15,15,5,6,8,9,2,3,6,7,medium,20,{bloom},2,true,false,none,seed,9,10,0,{habit},{leaf}\n"
INVENTED = {
    "Alba prima": ("perennial", "6,7", "dies_back", "04a-10b"),
    "Alba annua": ("annual", "7,8", "summer_annual", "06a-09b"),
    "Serva hiemis": ("woody", "5,5", "deciduous", "04a-10b"),
    "Dubia dubia": ("perennial", "6,7", "dies_back", "04a-10b"),
}
FLIES = """\
scientific_name,common_name,family,flight_start_month,flight_end_month,broods_per_year,overwinter_stage,\
where_overwinters,adult_food,habitat,typical_movement_low_m,typical_movement_median_m,\
typical_movement_high_m,mobility_class,flight_windows,egg_windows,egg_broods,eggs_on,feeding_windows,\
feeding_broods,brood_plants_factor
Lenta lenta,slow one,Nymphalidae,6,7,1,larva,host,nectar,open,100,200,300,intermediate,\
06a-07a,06b-07a,1,leaf,07a-08b;04a-05a,1;1,1
Turba turba,crowd one,Nymphalidae,5,6,1,pupa,host,none,open,100,200,300,intermediate,\
05a-06b,05a-06a,1,leaf,05b-07a,1,2
Flos floris,bud one,Lycaenidae,6,7,1,pupa,host,nectar,open,100,200,300,intermediate,\
06a-07b,06a-07a,1,flower,06a-07b,1,1
"""
HOSTS = """\
scientific_name,host_taxon,rank,use,lays,eaten_when,part_eaten
Lenta lenta,Alba prima,species,primary,yes,any,leaf
Lenta lenta,Alba annua,species,primary,yes,any,leaf
Lenta lenta,Serva hiemis,species,secondary,no,after_winter,leaf
Lenta lenta,Dubia dubia,species,secondary,doubtful,any,leaf
Turba turba,Alba prima,species,primary,yes,any,leaf
Flos floris,Alba prima,species,primary,yes,any,flower
"""


@pytest.fixture(scope="module")
def invented(tmp_path_factory):
    """A region of four plants and three kinds, so that each rule has a case that rests on it alone."""
    folder = tmp_path_factory.mktemp("invented")
    rows = [
        f"{name},{name},Albaceae,{'shrub' if span == 'woody' else 'forb'},{span},"
        + REST.format(bloom=bloom, habit=habit, leaf=leaf)
        for name, (span, bloom, habit, leaf) in INVENTED.items()
    ]
    (folder / "plants.csv").write_text(PLANTS + "".join(rows), encoding="utf-8")
    (folder / "butterflies.csv").write_text(FLIES, encoding="utf-8")
    (folder / "hosts.csv").write_text(HOSTS, encoding="utf-8")
    (folder / "region.toml").write_text('id = "invented"\nname = "nowhere"\n', encoding="utf-8")
    return load_knowledge(KnowledgeSettings(region_folder="."), folder)


def closing(knowledge, butterfly, counts, **more):
    stands = [HostStand(plant=plant, count=count) for plant, count in counts.items()]
    return close_life_cycle(
        knowledge, butterfly, stands, **({"nectar_months": WHOLE_YEAR, "winter_places": ["host"]} | more)
    )


@pytest.mark.parametrize("region", REGIONS)
def test_parts_of_every_plant_are_there_when_the_notes_on_the_tables_say(region):
    """Against a plain second reading of regions/ABOUT.md in tests/support/regions.py."""
    knowledge = load_knowledge(KnowledgeSettings(region=region))
    season = knowledge.region.season_months
    for row in table(region, "plants").to_dict("records"):
        plant = knowledge.plants.loc[row["scientific_name"]]
        for part in PARTS:
            mine = set(slots_of(part_slots(plant, part, season)))
            assert mine == half_months_of(row, part, season[0]), (plant.name, part)


def test_a_perennial_in_leaf_all_along_closes_the_cycle(invented):
    found = closing(invented, "Lenta lenta", {"Alba prima": 10})
    assert (found.closed, found.broods_fed, found.verdict) == (True, 1, "can breed")
    assert found.carried == "Alba prima in April to early May, July to August"


def test_an_annual_that_comes_up_in_june_feeds_no_caterpillar_in_april(invented):
    found = closing(invented, "Lenta lenta", {"Alba annua": 50})
    assert found.missing == ("no food for caterpillars in April to early May",)
    assert (found.closed, found.breeding, found.leaf_share) == (False, 0.0, 0.0)
    assert found.verdict == "will visit"


def test_a_plant_that_is_eaten_after_winter_carries_them_over_and_carries_no_eggs(invented):
    alone = closing(invented, "Lenta lenta", {"Serva hiemis": 20})
    assert alone.missing == (
        "no plant for eggs in late June to early July",
        "no food for caterpillars in July to August",
    )
    both = closing(invented, "Lenta lenta", {"Serva hiemis": 20, "Alba annua": 10})
    assert both.closed
    assert both.carried == "Alba annua in July to August; Serva hiemis in April to early May"


def test_a_doubtful_host_closes_nothing_and_is_told(invented):
    found = closing(invented, "Lenta lenta", {"Dubia dubia": 50})
    assert found.missing == ("no host plant but Dubia dubia, which may be none",)
    assert found.doubtful == ("Dubia dubia",)
    assert closing(invented, "Lenta lenta", {"Dubia dubia": 50, "Alba prima": 10}).closed


def test_half_a_season_of_food_is_none(invented):
    """Flowers of June and July feed a kind that eats them to the end of July; no tolerance."""
    assert closing(invented, "Flos floris", {"Alba prima": 10}).closed
    needs = needs_of(invented, "Flos floris")
    assert slot_words(needs.food) == "June to July"
    assert not gaps(invented, "Flos floris", ["Alba prima"])
    shorter = invented.plants.assign(bloom_end_month=6)
    flowers = part_slots(shorter.loc["Alba prima"], "flower", (4, 10))
    assert slot_words(needs.food & ~flowers) == "July"


def test_a_crowd_needs_twice_the_plants_and_a_kind_that_does_not_feed_no_nectar(invented):
    assert not closing(invented, "Turba turba", {"Alba prima": 9}, nectar_months=()).closed
    assert closing(invented, "Turba turba", {"Alba prima": 10}, nectar_months=()).closed  # 5 a brood, twice
    assert not closing(invented, "Lenta lenta", {"Alba prima": 10}, nectar_months=()).closed
    assert worth_by_task(invented, "Turba turba") == ({"Alba prima": 0.5},)


def test_the_winter_place_is_asked_for(invented):
    found = closing(invented, "Lenta lenta", {"Alba prima": 10}, winter_places=())
    assert found.missing == ("no host plants left as they are over winter",)


def test_what_a_yard_needs_is_told_as_sets_of_plants(invented):
    """Of perennial and annual one for eggs and summer; of perennial and shrub one for spring."""
    assert set(tasks(invented, "Lenta lenta")) == {
        frozenset({"Alba prima", "Alba annua"}),
        frozenset({"Alba prima", "Serva hiemis"}),
    }
    worth = worth_by_task(invented, "Lenta lenta")
    assert [set(one) for one in worth] == [set(one) for one in tasks(invented, "Lenta lenta")]
    hosts = hosts_by_time(invented, "Lenta lenta")
    assert all(one[plant] == hosts[plant].worth for one in worth for plant in one)


def test_baltimore_checkerspots_breed_on_turtlehead_and_on_nothing_else_alone():
    """Published life history (tests/reference): a bed of later hosts alone feeds nobody."""
    knowledge = load_knowledge(KnowledgeSettings())
    assert [set(one) for one in worth_by_task(knowledge, "Euphydryas phaeton")] == [{"Chelone glabra"}]
    for plant in set(knowledge.plants.index) - {"Chelone glabra"}:
        assert not closing(
            knowledge, "Euphydryas phaeton", {plant: 100}, winter_places=["leaf_litter"]
        ).closed
    found = closing(knowledge, "Euphydryas phaeton", {"Chelone glabra": 100}, winter_places=["leaf_litter"])
    assert found.closed


@pytest.mark.parametrize("region", REGIONS)
def test_no_cycle_closes_without_a_plant_that_she_lays_on(region):
    knowledge = load_knowledge(KnowledgeSettings(region=region))
    for name in knowledge.butterflies.index:
        later = {p: 200 for p, host in hosts_by_time(knowledge, name).items() if not host.eggs}
        assert not closing(
            knowledge, name, later, winter_places=["leaf_litter", "on_stem", "bark", "host", "soil"]
        ).closed


def test_windows_of_an_own_row_are_worked_out_where_it_gives_none(tmp_path):
    """Old columns still load: what they do not say follows from flight, broods and winter stage."""
    text = "scientific_name,flight_start_month,flight_end_month\nPapilio troilus,5,6\n"
    (tmp_path / "butterflies.csv").write_text(text, encoding="utf-8")
    own = load_knowledge(KnowledgeSettings(butterflies="butterflies.csv"), tmp_path)
    assert own.butterflies.at["Papilio troilus", "feeding_windows"] == ""
    needs = needs_of(own, "Papilio troilus")
    assert needs.eggs == windows("05a-06b")[0]
    assert len(needs.by_brood) == int(own.butterflies.at["Papilio troilus", "broods_per_year"])
    assert isinstance(own.butterflies.loc["Papilio troilus"], pd.Series)

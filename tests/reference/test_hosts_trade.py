"""Facts of the trade (common practice), and the rule sense of catalogue entry J6."""

import numpy as np
import pytest

from habitat.factors import FACTORS
from habitat.knowledge import HostStand, close_life_cycle, load_knowledge
from habitat.knowledge.broods import brood_need
from habitat.knowledge.looks import stage_looks
from habitat.knowledge.year import bloom_months, broods, flight_months, stages
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability import compile_needs
from habitat.suitability.needs import trapezium

NEEDS = FACTORS.names
WHOLE_YEAR = tuple(range(1, 13))
PLACES = ("leaf_litter", "on_stem", "bark", "host", "soil")


@pytest.fixture(scope="module")
def knowledge():
    return load_knowledge(KnowledgeSettings())


def eaters(knowledge, genus):
    rows = knowledge.host_plants
    return set(rows.loc[rows["plant"].str.startswith(genus + " "), "butterfly"])


def test_orangetips_need_mustards_and_come_out_first(knowledge):
    hosts = knowledge.hosts_of("Anthocharis midea")["plant"]
    assert set(knowledge.plants.loc[hosts, "family"]) == {"Brassicaceae"}
    flies = knowledge.butterflies
    from_pupa = flies[flies["overwinter_stage"] == "pupa"]
    assert flies.loc["Anthocharis midea", "flight_start_month"] == from_pupa["flight_start_month"].min()


def test_passion_vines_feed_gulf_and_variegated_fritillaries(knowledge):
    assert {"Dione vanillae", "Euptoieta claudia"} <= eaters(knowledge, "Passiflora")


def test_pipevines_feed_the_pipevine_swallowtail_and_grow_back(knowledge):
    assert eaters(knowledge, "Isotrema") == {"Battus philenor"}
    assert brood_need(knowledge, "Isotrema macrophyllum").regrowths == 2
    assert knowledge.practice_value("pipevine_regrowths") == 2


def test_junipers_feed_the_juniper_hairstreak(knowledge):
    flies = knowledge.butterflies.loc[sorted(eaters(knowledge, "Juniperus"))]
    assert set(flies.index[flies["kind"] == "butterfly"]) == {"Callophrys gryneus"}


def test_oaks_feed_hairstreaks_and_duskywings(knowledge):
    names = set(knowledge.butterflies.loc[list(eaters(knowledge, "Quercus")), "common_name"])
    assert any("hairstreak" in n for n in names)
    assert any("duskywing" in n for n in names)


def test_five_instars_four_moults_and_one_more_at_pupation(knowledge):
    usual, moults = (knowledge.practice_value(k) for k in ("instars_usual", "moults_before_pupation"))
    assert (usual, moults) == (5, 4)
    assert knowledge.practice_value("instars_most") == usual + 1


def test_many_walk_away_from_the_host_to_pupate(knowledge):
    def places(butterfly):
        looks = stage_looks(knowledge, butterfly).set_index("stage")
        return " ".join(looks.loc[["larva", "pupa"], "where_found"])

    away = [b for b in knowledge.butterflies.index if "away" in places(b)]
    assert len(away) >= 5
    assert "Battus philenor" in away


def test_a_chrysalis_lasts_weeks_or_a_whole_winter(knowledge):
    low, high = (knowledge.practice_value(f"chrysalis_summer_{k}") for k in ("low", "high"))
    assert 1 <= low < high <= 4
    tiger = broods(knowledge.butterflies.loc["Papilio glaucus"])
    assert len(tiger[-1].pupa) / 2 >= 6  # months
    year = stages(knowledge.butterflies.loc["Papilio glaucus"])
    assert year.loc[[12, 1, 2], "pupa"].all()


def test_monarchs_need_milkweed_and_nectar_alone_scores_nothing(knowledge):
    assert {p.split()[0] for p in knowledge.hosts_of("Danaus plexippus")["plant"]} == {"Asclepias"}
    flowers = [HostStand(plant="Liatris spicata", count=500), HostStand(plant="Monarda fistulosa", count=500)]
    found = close_life_cycle(
        knowledge, "Danaus plexippus", flowers, nectar_months=WHOLE_YEAR, winter_places=PLACES
    )
    assert (found.breeding, found.nectar_share, found.closed) == (0.0, 1.0, False)


@pytest.mark.parametrize("butterfly", load_knowledge(KnowledgeSettings()).butterflies.index)
def test_nectar_without_hosts_scores_nothing_for_anybody(butterfly, knowledge):
    found = close_life_cycle(knowledge, butterfly, [], nectar_months=WHOLE_YEAR, winter_places=PLACES)
    assert found.breeding == 0.0
    assert found.missing == ("no host plant",)


def test_swamp_milkweed_wants_moist_sun_and_butterfly_milkweed_dry(knowledge):
    needs = compile_needs(knowledge, SuitabilitySettings(), ("drainage", "sun_h"))

    def drainage(plant):
        ranges = needs.tables["ranges"][needs.plants.index(plant), NEEDS.index("drainage")]
        return trapezium(np.arange(1.0, 8.0), ranges)

    swamp, butterfly = drainage("Asclepias incarnata"), drainage("Asclepias tuberosa")
    assert (swamp[:4] == 1).all()
    assert (swamp[5:] == 0).all()
    assert (butterfly[:3] == 0).all()
    assert (butterfly[4:] == 1).all()
    sun = needs.tables["ranges"][needs.plants.index("Asclepias incarnata"), NEEDS.index("sun_h")]
    assert trapezium(np.array([2.0, 14.5]), sun).tolist() == [0.0, 1.0]


def test_the_season_has_nectar_from_march_to_november_and_hosts_for_shade(knowledge):
    plants = knowledge.plants
    good = plants[plants["nectar_value"] >= 2]
    months = [m for _, row in good.iterrows() for m in bloom_months(row)]
    assert all(months.count(m) >= 3 for m in range(3, 12) if m != 3)
    assert months.count(3) >= 1
    assert months.count(11) >= 5
    shade = plants[(plants["sun_opt_low_h"] <= 2) & plants["is_host"]]
    fed = set(knowledge.host_plants.loc[knowledge.host_plants["plant"].isin(shade.index), "butterfly"])
    assert {"Danaus plexippus", "Papilio polyxenes", "Argynnis cybele", "Vanessa atalanta"} <= fed


def test_flight_months_are_the_tables(knowledge):
    assert flight_months(knowledge.butterflies.loc["Danaus plexippus"]) == (5, 6, 7, 8, 9, 10, 11)

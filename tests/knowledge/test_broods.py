"""What feeds a brood."""

import pytest

from habitat.errors import KnowledgeError
from habitat.knowledge import HostStand, close_life_cycle, load_knowledge
from habitat.knowledge.broods import brood_need, carries, feed
from habitat.settings.knowledge import KnowledgeSettings

KNOWLEDGE = load_knowledge(KnowledgeSettings())

WHOLE_YEAR = range(1, 13)

PLACES = ("leaf_litter", "on_stem", "bark", "host", "soil")


def stand(plant, count, **more):
    return HostStand(plant=plant, count=count, **more)


def close(butterfly, *stands, **more):
    given = {"nectar_months": WHOLE_YEAR, "winter_places": PLACES} | more
    return close_life_cycle(KNOWLEDGE, butterfly, list(stands), **given)


def test_needs_come_from_the_most_telling_row():
    assert brood_need(KNOWLEDGE, "Asclepias incarnata").plants == 10  # genus
    assert brood_need(KNOWLEDGE, "Asclepias quadrifolia").plants == 30  # species
    assert brood_need(KNOWLEDGE, "Boehmeria cylindrica").plants == 5  # form
    assert brood_need(KNOWLEDGE, "Quercus alba").plants == 1


def test_needs_follow_the_rules_of_practice_until_the_table_has_a_number(tmp_path):
    """The rules milkweed_min and host_min_herb stand in one place; an own row of brood_needs goes before."""
    (tmp_path / "practice.csv").write_text("id,value\nmilkweed_min,25\nhost_min_herb,7\n", encoding="utf-8")
    own = load_knowledge(KnowledgeSettings(practice="practice.csv"), tmp_path)
    assert brood_need(own, "Asclepias incarnata").plants == 25
    assert brood_need(own, "Boehmeria cylindrica").plants == 7
    assert brood_need(own, "Asclepias quadrifolia").plants == 30  # the table's own number
    assert brood_need(own, "Lindera benzoin").plants == 1
    (tmp_path / "needs.csv").write_text("taxon,rank,plants_per_brood\nAsclepias,genus,40\n", encoding="utf-8")
    both = load_knowledge(KnowledgeSettings(practice="practice.csv", brood_needs="needs.csv"), tmp_path)
    assert brood_need(both, "Asclepias incarnata").plants == 40


def test_a_need_without_a_number_names_a_rule(tmp_path):
    (tmp_path / "needs.csv").write_text(
        "taxon,rank,practice_rule\nUrtica,genus,host_min_herbs\n", encoding="utf-8"
    )
    with pytest.raises(KnowledgeError, match="did you mean 'host_min_herb'"):
        load_knowledge(KnowledgeSettings(brood_needs="needs.csv"), tmp_path)


def test_spares_come_on_top():
    for plant in KNOWLEDGE.plants.index:
        need = brood_need(KNOWLEDGE, plant)
        assert need.with_spares >= need.plants
        assert need.first_year["pot"] <= need.first_year["plug"] <= need.first_year["seed"]
        assert need.leaf_m2 > 0


def test_secondary_hosts_count_half_and_kinds_add_up():
    secondary = KNOWLEDGE.hosts_of("Papilio glaucus").query("use == 'secondary'")["plant"]
    primary = KNOWLEDGE.hosts_of("Papilio glaucus").query("use == 'primary'")["plant"]
    one, other = stand(secondary.iloc[0], 1), stand(primary.iloc[0], 1)
    alone = feed(KNOWLEDGE, "Papilio glaucus", [one])
    assert alone.share == 0.5
    assert feed(KNOWLEDGE, "Papilio glaucus", [one, other]).share == 1.5


def test_a_spring_ephemeral_does_not_feed_a_summer_brood():
    # toothworts are gone by June: enough for the orangetip, whose caterpillars eat from April to June
    assert close("Anthocharis midea", stand("Cardamine concatenata", 30)).closed
    # four-leaved milkweed dies back in July: the first brood only
    found = feed(KNOWLEDGE, "Danaus plexippus", [stand("Asclepias quadrifolia", 60)])
    assert [b.number for b in found.fed] == [1]


def test_plants_that_do_not_grow_back_feed_one_brood_at_a_time():
    # partridge pea grows back once, sensitive to numbers: with half the plants nobody is fed
    few = feed(KNOWLEDGE, "Pyrisitia lisa", [stand("Chamaecrista fasciculata", 5)])
    assert not few.fed
    enough = feed(KNOWLEDGE, "Pyrisitia lisa", [stand("Chamaecrista fasciculata", 10)])
    assert len(enough.fed) == 2


@pytest.mark.parametrize(
    ("planted", "year", "able"), [(1, 2, False), (1, 3, True), (2, 3, False), (2, 4, True)]
)
def test_seed_carries_a_brood_from_its_third_season(planted, year, able, knowledge):
    """Milkweed from seed: third season (table brood_needs), counted from that of planting."""
    stand = HostStand(plant="Asclepias syriaca", count=20, form="seed", planted_year=planted)
    assert carries(stand, brood_need(knowledge, "Asclepias syriaca"), year) is able

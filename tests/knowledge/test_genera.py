"""Names of whole genera: what they count as, against the hosts of every species of the genus."""

import pytest

from habitat.knowledge import load_knowledge, resolve_plants
from habitat.knowledge.genera import stands_for
from habitat.knowledge.region import shipped_regions
from habitat.settings.knowledge import KnowledgeSettings


@pytest.mark.parametrize("region", sorted(shipped_regions()))
@pytest.mark.parametrize("said", ["old oak", "Oak", "a big willow tree", "Quercus sp.", "milkweeds"])
def test_a_genus_feeds_what_all_of_it_feed_and_no_more(region, said):
    knowledge = load_knowledge(KnowledgeSettings(region=region))
    (match,) = resolve_plants([said], knowledge)
    assert (match.accepted, match.how, match.certainty) == (None, "genus", "sure")
    plant = stands_for(match, knowledge)
    genus = plant.split()[0]
    every = [p for p in knowledge.plants.index if p.split()[0] == genus]
    fed = [set(knowledge.eaters_of(p)["butterfly"]) for p in every]
    assert set(knowledge.eaters_of(plant)["butterfly"]) == set.intersection(*fed)
    assert "counts as a host of what eats all of them" in match.note


def test_a_genus_of_which_no_kind_feeds_just_what_all_do_counts_as_nothing_and_says_so():
    """Each dogwood of the first region feeds kinds that the others do not."""
    knowledge = load_knowledge(KnowledgeSettings())
    (dogwood,) = resolve_plants(["dogwood"], knowledge)
    fed = [set(knowledge.eaters_of(p)["butterfly"]) for p in dogwood.suggestions]
    assert set.intersection(*fed) not in fed
    assert stands_for(dogwood, knowledge) is None
    assert "is not counted as a host" in dogwood.note


def test_a_word_of_several_genera_counts_as_nothing_and_says_so():
    knowledge = load_knowledge(KnowledgeSettings())
    (aster,) = resolve_plants(["aster"], knowledge)
    assert (aster.certainty, stands_for(aster, knowledge)) == ("likely", None)
    assert "is not counted as a host" in aster.note
    (milkweed,) = resolve_plants(["swamp milkweed"], knowledge)
    assert stands_for(milkweed, knowledge) == "Asclepias incarnata"
    (unknown,) = resolve_plants(["zzz"], knowledge)
    assert stands_for(unknown, knowledge) is None

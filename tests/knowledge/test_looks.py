"""What eggs and caterpillars look like, and what to keep over winter."""

from habitat.knowledge.looks import stage_looks, winter_words


def test_every_butterfly_has_words_for_every_young_stage(knowledge):
    for name in knowledge.butterflies.index:
        looks = stage_looks(knowledge, name)
        assert looks["stage"].tolist() == ["egg", "larva", "pupa"], name
        assert looks["when"].str.len().min() > 2
        assert (looks["source"] == "memory").all()


def test_winter_words(knowledge):
    assert "leave fallen leaves" in winter_words(knowledge, "Papilio glaucus")
    assert "leave stems standing" in winter_words(knowledge, "Papilio polyxenes")
    assert "does not winter here" in winter_words(knowledge, "Danaus plexippus")

"""Grades of harm and of spread, against the tables themselves and by hand."""

import pytest

from habitat.knowledge import load_knowledge
from habitat.knowledge.care import YardFlags, cautions, companions_of, moth_care
from habitat.knowledge.hazards import (
    ACTIONS,
    hazard_action,
    held_by,
    kept_out_by_hazard,
    needs_containing,
    stands_away,
)
from habitat.settings.knowledge import KnowledgeSettings
from habitat.terms import household_answer


@pytest.fixture(scope="module")
def knowledge():
    return load_knowledge(KnowledgeSettings())


def test_the_strictest_of_what_lives_there_counts(knowledge):
    rest = knowledge.hazard_classes[~knowledge.hazard_classes["class_four"].str.contains("1")]
    for plant, row in rest.iterrows():
        for children in (False, True):
            for pets in (False, True):
                asked = ["none"] + [row["children_counted"]] * children + [row["pets_counted"]] * pets
                found = hazard_action(knowledge, plant, children=children, pets=pets)
                assert found == max(asked, key=ACTIONS.index)


def test_class_one_is_barred_where_children_or_pets_live(knowledge):
    """Class 1: major toxicity, may kill, from a published list or from memory alike."""
    ones = knowledge.hazard_classes[knowledge.hazard_classes["class_four"].str.contains("1")]
    assert len(ones)
    for plant in ones.index:
        assert hazard_action(knowledge, plant, children=True, pets=False) == "bar", plant
        assert hazard_action(knowledge, plant, children=False, pets=True) == "bar", plant


@pytest.mark.parametrize(
    ("action", "answer", "out", "away"),
    [
        ("bar", "", True, False),
        ("bar", "away from play", True, False),
        ("bar", "all", False, True),
        ("ask", "", False, True),
        ("keep_away", "away from play", False, True),
        ("keep_away", "none", True, True),
        ("tell", "none", True, False),
        ("tell", "", False, False),
        ("none", "none", False, False),
    ],
)
def test_what_the_answer_of_a_household_does(action, answer, out, away):
    assert bool(kept_out_by_hazard(action, answer)) == out
    assert stands_away(action, answer) == away


def test_an_own_plant_with_a_hazard_and_no_class_is_kept_away(tmp_path, knowledge):
    row = knowledge.plants.loc[["Viola sororia"]].assign(
        scientific_name="Viola palmata", common_name="wood violet", hazards="toxic_if_eaten", region=""
    )
    row.to_csv(tmp_path / "plants.csv", index=False)
    own = load_knowledge(KnowledgeSettings(plants="plants.csv"), tmp_path)
    assert hazard_action(own, "Viola palmata", children=True, pets=False) == "keep_away"
    assert hazard_action(own, "Viola palmata", children=False, pets=True) == "none"


def test_only_what_spreads_needs_containing(knowledge):
    spread = knowledge.spread_classes
    for plant, row in spread.iterrows():
        runs = row["grade"] in ("runs", "suckers", "seeds_freely")
        assert bool(needs_containing(knowledge, plant)) == runs, plant
    assert held_by(("paving",), ("paving",)) == ("paving",)
    assert held_by(("paving",), ()) == ()
    assert held_by(("cut_before_seed",), ()) == ("cut_before_seed",)  # hands can do it anywhere


def test_cautions_ask_the_household_name_the_help_and_spare_what_they_are_not_true_of(knowledge):
    family = YardFlags(children=True, pets=True)
    found = {c.id: c for c in cautions(knowledge, ["Asclepias incarnata", "Asclepias tuberosa"], family)}
    assert found["ask_household"].plants == ("Asclepias incarnata",)
    assert found["keep_away"].plants == ("Asclepias tuberosa",)
    assert "1.5 m" in found["ask_household"].words
    assert "1-800-222-1222" in found["poison_help"].words
    assert "veterinarian" in found["poison_help_animals"].words
    assert found["milkweed_sap"].plants == ("Asclepias incarnata",)  # butterfly milkweed has no milky sap
    nobody = {c.id for c in cautions(knowledge, ["Asclepias incarnata"])}
    assert not {"ask_household", "keep_away", "poison_help_animals"} & nobody
    bears_all = {
        c.id for c in cautions(knowledge, ["Asclepias incarnata"], YardFlags(children=True, poisonous="all"))
    }
    assert "ask_household" not in bears_all
    free = YardFlags(children=True, poisonous="all")  # class 1, let in: twice as far
    cherry = {c.id: c.words for c in cautions(knowledge, ["Prunus serotina"], free)}
    assert "at least 3 m from play ground" in cherry["keep_away"]
    assert "poison_help" in bears_all


def test_moths_bring_their_own_care(knowledge):
    ids = {c.id for c in moth_care(knowledge, ["Actias luna"])}
    assert {"lights", "no_spray", "not_fed", "harmless_giants"} <= ids
    assert "underwing_eggs" not in ids
    assert moth_care(knowledge, ["Danaus plexippus"]) == []


def test_a_root_parasite_names_its_company(knowledge):
    company = companions_of(knowledge, "Agalinis purpurea")
    assert set(knowledge.plants.loc[sorted(company), "family"]) == {"Poaceae"}
    assert companions_of(knowledge, "Asclepias incarnata") == frozenset()
    told = [c for c in cautions(knowledge, ["Agalinis purpurea"]) if c.id.startswith("company")]
    assert "within 0.3 m of Poaceae" in told[0].words


def test_answers_as_people_write_them():
    said = {"": "", "?": "", "none": "none", "No": "none", "All": "all", "yes please": "all"}
    said |= {"away from play": "away from play", "Away, please": "away from play"}
    assert {text: household_answer(text) for text in said} == said
    assert household_answer(None) == ""

"""Names as people write them: resolved, or left open with a suggestion; never guessed."""

import re

import pytest

from habitat.knowledge import load_knowledge, resolve_butterflies, resolve_plants
from habitat.knowledge.names import resolve_butterfly
from habitat.knowledge.region import shipped_regions
from habitat.settings.knowledge import KnowledgeSettings


@pytest.mark.parametrize(
    ("given", "accepted", "how"),
    [
        ("Asclepias syriaca", "Asclepias syriaca", "exact"),
        ("  asclepias   SYRIACA ", "Asclepias syriaca", "case"),
        ("Asclepias_syriaca", "Asclepias syriaca", "exact"),
        ("Asclepias syriaca L.", "Asclepias syriaca", "authority"),
        ("Symphyotrichum laeve (L.) Á.Löve & D.Löve", "Symphyotrichum laeve", "authority"),
        ("Juniperus virginiana var. virginiana", "Juniperus virginiana", "variety"),
        ("Echinacea purpurea 'Old Rose'", "Echinacea purpurea", "selection"),
        ("Echinacea purpurea ‘Old Rose’", "Echinacea purpurea", "selection"),
        ("Aster laevis", "Symphyotrichum laeve", "synonym"),
        ("ASTER LAEVIS L.", "Symphyotrichum laeve", "synonym"),
        ("Common Milkweed", "Asclepias syriaca", "common name"),
        ("maypop", "Passiflora incarnata", "common name"),
        ("Dutchman’s pipe", "Isotrema macrophyllum", "common name"),
        ("pawpaws", "Asimina triloba", "common name"),
        ("New-England aster", "Symphyotrichum novae-angliae", "common name"),
        ("sassafras", "Sassafras albidum", "common name"),
    ],
)
def test_resolved(given, accepted, how, knowledge):
    (match,) = resolve_plants([given], knowledge)
    assert (match.given, match.accepted, match.how) == (given, accepted, how)


@pytest.mark.parametrize(
    ("given", "how", "suggestions"),
    [
        ("Asclepias siriaca", "unknown", {"Asclepias syriaca"}),
        ("blak cherry", "unknown", {"Prunus serotina"}),
        ("zzz", "unknown", set()),
        ("", "empty", set()),
        ("   ", "empty", set()),
        ("Quercus × bebbiana", "hybrid", {"Quercus alba", "Quercus rubra"}),
        ("Quercus x jackiana", "hybrid", {"Quercus alba", "Quercus rubra"}),
        ("Salix discolor x exigua", "hybrid", {"Salix discolor", "Salix humilis"}),
        ("Salix humilis Marsh. × Salix alba L.", "hybrid", {"Salix discolor", "Salix humilis"}),
        ("Asclepias syriaca or exaltata", "ambiguous", {"Asclepias syriaca", "Asclepias exaltata"}),
        ("Asclepias syriaca / tuberosa", "ambiguous", {"Asclepias syriaca", "Asclepias tuberosa"}),
        ("Aster laevis & Viola sororia", "ambiguous", {"Symphyotrichum laeve", "Viola sororia"}),
        ("Salix cf. discolor", "uncertain", {"Salix discolor"}),
        ("Salix discolor?", "uncertain", {"Salix discolor"}),
        ("Quercus sp.", "genus", {"Quercus alba", "Quercus rubra"}),
        ("Alliaria petiolata", "look-alike", set()),
        ("Garlic Mustard", "look-alike", set()),
        ("Cynanchum louiseae", "look-alike", set()),
        ("Buddleja davidii", "look-alike", set()),
    ],
)
def test_left_open(given, how, suggestions, knowledge):
    (match,) = resolve_plants([given], knowledge)
    assert match.accepted is None
    assert match.how == how
    assert set(match.suggestions) == suggestions
    assert match.note


def test_a_misspelling_says_what_it_might_be(knowledge):
    (match,) = resolve_plants(["Asclepias siriaca"], knowledge)
    said = "'Asclepias siriaca' is not in the tables; did you mean Asclepias syriaca (common milkweed)?"
    assert match.note == said


def test_a_look_alike_says_why_and_what_instead(knowledge):
    (match,) = resolve_plants(["butterfly bush"], knowledge)
    assert "Buddleja davidii" in match.note
    assert "no local larva eats it" in match.note
    assert "Plant Cephalanthus occidentalis instead." in match.note


def test_an_accepted_plant_names_what_passes_for_it(knowledge):
    (match,) = resolve_plants(["Zizia aurea"], knowledge)
    assert {"poison hemlock", "wild parsnip"} <= set(match.lookalikes)


def test_a_name_of_several_kinds_is_not_guessed(tmp_path):
    (tmp_path / "own.csv").write_text(
        "old_name,accepted_name,kind\nmilkweed,Asclepias syriaca,plant\n", encoding="utf-8"
    )
    (tmp_path / "plants.csv").write_text(
        "scientific_name,common_name\nAsclepias tuberosa,milkweed\n", encoding="utf-8"
    )
    settings = KnowledgeSettings(synonyms="own.csv", plants="plants.csv")
    (match,) = resolve_plants(["milkweed"], load_knowledge(settings, tmp_path))
    assert match.accepted is None
    assert match.how == "ambiguous"
    assert set(match.suggestions) == {"Asclepias syriaca", "Asclepias tuberosa"}


def test_every_name_of_the_tables_resolves_to_itself(knowledge):
    for match, name in zip(
        resolve_plants(list(knowledge.plants.index), knowledge), knowledge.plants.index, strict=True
    ):
        assert match.accepted == name
    for match in resolve_plants(list(knowledge.plants["common_name"]), knowledge):
        assert match.accepted is not None, match
    for match in resolve_butterflies(list(knowledge.butterflies["common_name"]), knowledge):
        assert match.accepted is not None, match


def test_every_old_name_resolves(knowledge):
    for row in knowledge.synonyms.itertuples():
        if row.kind == "plant":
            assert resolve_plants([row.old_name], knowledge)[0].accepted == row.accepted_name
        elif row.kind == "butterfly":
            assert resolve_butterfly(row.old_name, knowledge).accepted == row.accepted_name
        else:
            assert resolve_plants([row.old_name], knowledge)[0].how == "look-alike"


def test_no_look_alike_is_ever_accepted(knowledge):
    names = [n for n in knowledge.lookalikes["lookalike_scientific_name"] if len(n.split()) == 2]
    assert all(m.accepted is None for m in resolve_plants(names, knowledge))


def test_butterflies_by_any_name(knowledge):
    assert resolve_butterfly("Speyeria cybele", knowledge).accepted == "Argynnis cybele"
    assert resolve_butterfly("MONARCH", knowledge).accepted == "Danaus plexippus"
    match = resolve_butterfly("monark", knowledge)
    assert match.accepted is None
    assert match.suggestions == ("Danaus plexippus",)


@pytest.mark.parametrize(
    ("given", "first", "says"),
    [
        ("milkwed", "Asclepias syriaca", "milkweed, if that is meant"),
        ("common milkwed", "Asclepias syriaca", "did you mean"),
        ("purple coneflowr", "Echinacea purpurea", "did you mean"),
        ("red-bud", "Cercis canadensis", "did you mean"),
        ("butterflyweed", "Asclepias tuberosa", "did you mean"),
        ("new england astor", "Symphyotrichum novae-angliae", "did you mean"),
        ("Aster novae angliae", "Symphyotrichum novae-angliae", "did you mean"),
        ("violets", "Viola sororia", "write which"),
        ("oak tree", "Quercus rubra", "a whole genus (Quercus); of its kinds the tables hold Quercus rubra"),
        ("black eyed susans", "Rudbeckia hirta", "did you mean"),
    ],
)
def test_the_likeliest_name_comes_first(given, first, says, knowledge):
    (match,) = resolve_plants([given], knowledge)
    assert match.accepted is None
    assert match.suggestions[0] == first
    assert says in match.note


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("linden", "(Tilia) is not in the tables"),
        ("Tilia americana", "is not in the tables"),
        ("red mapel", "perhaps Acer rubrum"),
        ("green ash", "(Fraxinus pennsylvanica) is not in the tables"),
        ("white pine", "(Pinus strobus) is not in the tables"),
        ("tulips", "(Tulipa) is not in the tables"),
        ("foxglove", "(Digitalis) is not in the tables"),
        ("hosta", "is not in the tables"),
        ("qwxz", "nor is any name like it"),
        ("rattlesnake master", "nor is any name like it"),
        ("Monarda didyma", "of its genus they hold Monarda fistulosa, which is another kind"),
        ("weeds", "does not say which plant"),
        ("unknown tree", "does not say which plant"),
        ("monarch", "is a butterfly or moth (Danaus plexippus), not a plant"),
        ("cabbage white", "is a butterfly or moth (Pieris rapae), not a plant"),
        ("Papilio polyxenes", "is a butterfly or moth, not a plant"),
        ("swallowtail caterpillars", "is a butterfly or moth, not a plant"),
    ],
)
def test_nothing_is_suggested_where_nothing_is_near(given, says, knowledge):
    (match,) = resolve_plants([given], knowledge)
    assert (match.accepted, match.suggestions) == (None, ())
    assert says in match.note
    assert "did you mean" not in match.note


def test_a_plant_seen_flying_is_told(knowledge):
    (plant, other) = resolve_butterflies(["common milkweed", "painted lady"], knowledge)
    assert "is a plant (Asclepias syriaca), not a butterfly" in plant.note
    assert "(Vanessa cardui) is not in the tables" in other.note
    assert (plant.suggestions, other.suggestions) == ((), ())


def test_a_plant_of_an_own_table_is_no_longer_unknown(tmp_path):
    folder = shipped_regions()["ohio-valley-mid-atlantic"].folder
    shipped = (folder / "plants.csv").read_text(encoding="utf-8")
    head, elm = shipped.splitlines()[0], re.search(r"(?m)^Ulmus americana,American elm,.*$", shipped)[0]
    own = elm.replace("Ulmus americana,American elm", "Tilia americana,American basswood")
    (tmp_path / "plants.csv").write_text(f"{head}\n{own}\n", encoding="utf-8")
    tables = load_knowledge(KnowledgeSettings(plants="plants.csv"), tmp_path)
    (basswood, linden) = resolve_plants(["basswood", "Tilia americana"], tables)
    assert basswood.suggestions == ("Tilia americana",)
    assert linden.accepted == "Tilia americana"

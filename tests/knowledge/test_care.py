"""Rules that keep people, pets and caterpillars from harm."""

from habitat.knowledge.care import YardFlags, cautions, harmful_plants, lookalikes_of, no_host_reason


def ids(found):
    return {c.id for c in found}


def test_sprayed_yards_get_no_hosts(knowledge):
    assert "trap" in no_host_reason(knowledge, YardFlags(sprayed=True))
    assert no_host_reason(knowledge, YardFlags(children=True, pets=True, deer=True, septic=True)) == ""


def test_what_every_sheet_says(knowledge):
    found = ids(cautions(knowledge, ["Asclepias incarnata"]))
    assert {
        "call_locator",
        "local_codes",
        "untreated_stock",
        "straight_species",
        "not_dug",
        "chewed_leaves",
        "no_release",
    } <= found
    assert "sprayed_no_hosts" not in found


def test_nectar_plants_bring_no_host_cautions(knowledge):
    (plant, *_) = knowledge.plants.index[~knowledge.plants["is_host"]]
    found = ids(cautions(knowledge, [plant]))
    assert "call_locator" in found
    assert not {"untreated_stock", "chewed_leaves", "no_release"} & found


def test_no_plants_no_cautions(knowledge):
    assert cautions(knowledge, []) == []


def test_a_caution_names_its_plants_and_no_others(knowledge):
    plants = ["Asclepias incarnata", "Salix discolor", "Liatris spicata", "Quercus alba"]
    by_id = {c.id: c for c in cautions(knowledge, plants)}
    assert by_id["roots_pipes"].plants == ("Salix discolor",)
    assert by_id["overhead"].plants == ("Quercus alba",)
    assert by_id["toxic_note"].plants == ("Asclepias incarnata",)
    assert str(by_id["roots_pipes"]).endswith("(Salix discolor).")


def test_what_a_household_says_sharpens_the_words(knowledge):
    plants = ["Prunus serotina"]
    family = ids(cautions(knowledge, plants, YardFlags(children=True, pets=True, deer=True)))
    assert {"toxic_children", "toxic_pets", "deer_cage"} <= family
    assert not {"toxic_note", "toxic_pets_note", "rabbit_cage"} & family
    assert "septic_trees" in ids(cautions(knowledge, plants, YardFlags(septic=True)))


def test_every_hazard_of_every_plant_has_its_caution(knowledge):
    word = {
        "toxic_if_eaten": "toxic_note",
        "toxic_to_pets": "toxic_pets_note",
        "skin_irritant": "skin_note",
        "thorns": "thorns_note",
    }
    for name, row in knowledge.plants.iterrows():
        wanted = {word[h] for h in row["hazards"].split(";") if h != "none"}
        found = ids(cautions(knowledge, [name]))
        assert wanted <= found
        assert ("spreads" in found) == row["aggressive_spread"]


def test_litter_is_left_where_broods_winter_in_it(knowledge):
    found = {c.id: c for c in cautions(knowledge, ["Rhus copallinum", "Schizachyrium scoparium"])}
    assert "Rhus copallinum" in found["leave_litter"].plants


def test_carrot_family_warns_of_deadly_look_alikes(knowledge):
    for name in ("Zizia aurea", "Osmorhiza longistylis", "Cryptotaenia canadensis"):
        assert "carrot_family" in ids(cautions(knowledge, [name]))


def test_harmful_plants_among_what_stands(knowledge):
    found = harmful_plants(
        knowledge, ["Asclepias incarnata", "garlic mustard", "Conium maculatum", "nonsense"]
    )
    assert found["position"].tolist() == [1, 2]
    assert found["lookalike"].tolist() == ["Alliaria petiolata", "Conium maculatum"]
    assert found["plant_instead"].tolist() == ["Cardamine concatenata", "Zizia aurea"]
    assert "removed by somebody who knows" in found["action"][1]  # never by hand


def test_what_to_plant_instead_is_no_look_alike_itself(knowledge):
    looks = knowledge.lookalikes
    assert not set(looks["plant_instead"]) & set(looks["lookalike_scientific_name"])


def test_look_alikes_of_plants(knowledge):
    found = lookalikes_of(knowledge, ["Asclepias tuberosa", "Asclepias tuberosa"])
    assert "Vincetoxicum nigrum" in set(found["lookalike"])
    assert set(found["plant"]) == {"Asclepias tuberosa"}

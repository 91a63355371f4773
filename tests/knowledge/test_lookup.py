"""Looking things up: what is published and what is memory, and the words people read."""

import pytest

from habitat.errors import NotFoundError
from habitat.knowledge import load_knowledge, year_gaps
from habitat.knowledge.lookup import describe_butterfly, describe_plant, find_butterflies, find_plants
from habitat.settings.knowledge import KnowledgeSettings


def test_plants_by_butterfly_shade_and_month(knowledge):
    found = find_plants(knowledge, eaten_by="monarch", shade=True)
    assert {"Asclepias exaltata", "Asclepias quadrifolia"} <= set(found["plant"])
    assert set(found["plant"]) <= set(knowledge.hosts_of("Danaus plexippus")["plant"])
    november = find_plants(knowledge, bloom=11)
    assert len(november) >= 7
    assert (knowledge.plants.loc[november["plant"], "bloom_end_month"] >= 11).all()
    assert len(find_plants(knowledge)) == len(knowledge.plants)


def test_butterflies_by_plant_and_month(knowledge):
    assert set(find_butterflies(knowledge, eats="maypop")["butterfly"]) == {
        "Dione vanillae",
        "Euptoieta claudia",
    }
    march = find_butterflies(knowledge, month=3)
    assert set(knowledge.butterflies.loc[march["butterfly"], "flight_start_month"]) == {3}


def test_unknown_names_are_refused_with_a_hint(knowledge):
    with pytest.raises(NotFoundError, match="did you mean Asclepias syriaca"):
        describe_plant(knowledge, "Asclepias siriaca")
    with pytest.raises(NotFoundError, match="Danaus plexippus"):
        find_plants(knowledge, eaten_by="monark")


def test_a_butterflys_name_is_no_plant_and_the_other_way_round(knowledge):
    with pytest.raises(NotFoundError, match=r"is a butterfly, no plant.*--eaten-by .monarch"):
        describe_plant(knowledge, "monarch")
    with pytest.raises(NotFoundError, match=r"is a plant, no butterfly.*--for .maypop"):
        describe_butterfly(knowledge, "maypop")


def test_each_value_says_where_it_comes_from(knowledge):
    rows = describe_plant(knowledge, "swamp milkweed").set_index("field")
    assert rows.loc["ph_min", "source"] == "published: agrees with NRCS-CHAR"
    assert rows.loc["ph_min", "unit"] == "pH"
    assert rows.loc["wetland_indicator_emp", "source"] == "published: agrees with NWPL2020"
    assert rows.loc["sun_min_h", "source"] == "memory"
    assert rows.loc["drainage_min", "source"].startswith("memory: it fits")
    monarch = rows[rows["value"].astype(str).str.startswith("monarch (Danaus plexippus)")]
    assert monarch["source"].tolist() == ["published: NABA-NJ"]
    assert "characteristics by species" in rows.loc["source NRCS-CHAR", "value"]


def test_the_share_of_published_values_is_that_of_the_read_me(knowledge):
    # 833 plant values agree with a published source, of the rows that came with a source
    fields = knowledge.plants["checked_fields"].str.split(";").explode()
    assert ((fields != "drainage_fits_wetland_rating") & (fields != "")).sum() >= 833


def test_own_values_say_so(tmp_path):
    (tmp_path / "own.csv").write_text("scientific_name,ph_min\nAsclepias incarnata,4.8\n", encoding="utf-8")
    own = load_knowledge(KnowledgeSettings(plants="own.csv"), tmp_path)
    rows = describe_plant(own, "Asclepias incarnata").set_index("field")
    assert rows.loc["ph_min", "source"] == "own table own.csv"
    assert rows.loc["ph_max", "source"].startswith("published")


def test_own_rows_of_every_table_say_so_and_pass_for_nothing_else(tmp_path, knowledge):
    """A cell laid over a published row is not published; an own figure is not "common practice"."""
    tables = {
        "hosts": "scientific_name,host_taxon,rank,use\nDanaus plexippus,Asclepias,genus,secondary\n"
        "Danaus plexippus,Viola sororia,species,secondary\n",
        "brood_needs": "taxon,rank,plants_per_brood,source\nViola,genus,40,our trial beds\n",
        "practice": "id,value\nmilkweed_min,25\n",
        "stages": "taxon,rank,stage,looks\nDanaus plexippus,species,egg,cream cones\n",
        "lookalikes": "native_taxon,lookalike_scientific_name,reason\nZizia aurea,Conium maculatum,seen\n",
    }
    for name, text in tables.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    own = load_knowledge(KnowledgeSettings(**{name: f"{name}.csv" for name in tables}), tmp_path)
    told = describe_plant(own, "Asclepias incarnata")
    fed = told.loc[told["value"].astype(str).str.startswith("monarch"), "source"]
    assert fed.tolist() == ["own table hosts.csv (rank, use); else NABA-NJ"]
    milkweed = told.set_index("field")["source"]
    assert milkweed["plants_per_brood"] == "own table practice.csv (value); else common practice"
    assert milkweed["regrowths"] == "memory: common practice"
    violet = describe_plant(own, "Viola sororia")
    told = violet.loc[violet["value"].astype(str).str.startswith("monarch"), "source"]
    assert told.tolist() == ["own table hosts.csv"]
    words = "own table brood_needs.csv: our trial beds (plants_per_brood); else common practice"
    assert violet.set_index("field").loc["plants_per_brood", "source"] == words
    monarch = describe_butterfly(own, "monarch").set_index("field")["source"]
    assert monarch["egg_looks"] == "own table stages.csv (looks); else memory"
    assert monarch["pupa_looks"] == "memory"
    alexanders = describe_plant(own, "Zizia aurea")
    near = alexanders[alexanders["value"].astype(str).str.startswith("poison hemlock")].iloc[0]
    assert ": seen." in near["value"]
    assert near["source"].startswith("own table lookalikes.csv (reason); else ")
    before = describe_plant(knowledge, "Zizia aurea")
    assert ": seen." not in " ".join(before["value"].astype(str))


def test_a_butterfly_shows_its_year_looks_winter_and_hosts(knowledge):
    rows = describe_butterfly(knowledge, "banded hairstreak")
    by = rows.groupby("field")["value"].first()
    assert by["egg_months"] == "6-4"
    assert "sea urchin" in by["egg_looks"]
    assert "host plant" in by["winter"]
    assert any("white oak (Quercus alba), primary" in v for v in rows["value"].astype(str))


def test_gaps_of_a_planting(knowledge):
    gaps = year_gaps(knowledge, ["Danaus plexippus", "Pieris virginiensis"], ["Asclepias incarnata"])
    rows = {(r.butterfly, r.gap, r.brood): r.months for r in gaps.itertuples()}
    assert rows[("Danaus plexippus", "nectar", 0)] == "5-6, 9-11"  # swamp milkweed flowers in July and August
    assert rows[("Pieris virginiensis", "nectar", 0)] == "4-5"
    assert ("Pieris virginiensis", "leaf", 1) in rows
    assert ("Danaus plexippus", "leaf", 1) not in rows


def test_a_plant_tells_its_poison_class_and_whether_that_is_memory(knowledge):
    """Rows of the tables hazard_classes, spread_classes and native_states, as they stand there."""
    rows = knowledge.hazard_classes
    assert rows.at["Asclepias incarnata", "class_basis"] == "memory"
    assert rows.at["Prunus serotina", "class_basis"] == "published"
    milkweed, cherry = (
        describe_plant(knowledge, plant).set_index("field") for plant in ("swamp milkweed", "Prunus serotina")
    )
    assert milkweed.at["poison_class", "source"].startswith("memory")
    assert "one step stricter" in milkweed.at["with_children", "source"]
    assert milkweed.at["with_children", "value"].startswith("a question to the household")
    assert cherry.at["poison_class", "value"].startswith("class 1, major toxicity")
    assert cherry.at["with_pets", "value"] == "left out, unless the household says otherwise"
    assert "one step stricter" not in cherry.at["with_children", "source"]
    assert "OH" in cherry.at["native_states", "value"].split()
    assert cherry.at["spreads", "value"] == "seeds freely"
    assert cherry.at["contained_by", "value"] == "mowing around it"

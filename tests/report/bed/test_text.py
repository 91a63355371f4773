"""The bed as text: drawn to scale, every plant and caution told."""

import re

import pytest

from habitat.bed import design_bed
from habitat.report.bed.text import bed_text, drawing_text


@pytest.mark.parametrize("said", ["4x2m", "30x5ft", "2x2m", "a pot", "balcony box"])
def test_the_drawing_holds_every_plant_and_is_to_scale(said):
    bed = design_bed("Ohio", said, soil="loam")
    lines = drawing_text(bed).splitlines()
    counted = [int(n) for line in lines[1:-1] for n in re.findall(r"(?<=..)\d+|\d+", line)]
    inside = [line[1:-2] for line in lines[1:-1]]
    numbers = [line[k : k + 2].strip() for line in inside for k in range(0, len(line), 2)]
    found = [int(n) for n in numbers if n.isdigit()]
    assert counted
    assert {n: found.count(n) for n in set(found)} == dict(
        zip(bed.plants["number"], bed.plants["count"], strict=True)
    )
    size = bed.facts.size
    wide, high = len(inside[0]) / 2, len(inside)
    assert wide / high == pytest.approx(size.length_m / size.width_m, rel=0.35)
    assert all(len(line) == len(lines[0]) <= 78 for line in lines)


def test_the_text_tells_plants_butterflies_care_and_cautions():
    bed = design_bed("Ohio", "12x6ft", wishes="monarch")
    text = bed_text(bed)
    for plant in bed.plants["plant"]:
        assert plant in text
    for words in (
        "soil: not known",
        "soil texture",
        "before anybody digs",
        "Local codes",
        "poisonous if eaten",
        "ft",
    ):
        assert words in " ".join(text.split())
    assert max(len(line) for line in text.splitlines()) <= 80


def test_a_pot_is_told_of_water_and_of_what_it_cannot_feed():
    text = bed_text(design_bed("Texas", "a pot"))
    for words in ("Water whenever", "A pot feeds adults", "potting soil"):
        assert words in " ".join(text.split())
    assert "anybody digs" not in text


def test_a_pot_is_not_told_of_lawns_and_its_few_plants_are_bought_as_plants():
    bed = design_bed("Maryland", "a balcony box", sun="part")
    text = " ".join(bed_text(bed).split())
    assert not re.search(r"mown edge|lawn around|weed ordinance|root barrier", text)
    assert "money" not in text
    ways = bed.knowledge.plants.loc[bed.plants["plant"], "propagation"]
    grown = ways.str.contains("plug|container").to_numpy()
    assert grown.any()
    assert (bed.plants["form"][grown] != "seed").all()


def test_of_very_many_butterflies_those_that_breed_are_told_and_the_rest_are_counted():
    bed = design_bed("Texas", "4x2m", sun="shade", soil="clay", wishes="as many as possible")
    text = bed_text(bed)
    for name in bed.butterflies.loc[bed.butterflies["verdict"] == "can breed", "common_name"]:
        assert f"- {name}: can breed" in text
    assert len(text.splitlines()) < 150
    counts = bed.butterflies["verdict"].value_counts()
    assert f"{counts['will visit'] - 12} more" in " ".join(text.split())
    assert f"not yet: {counts['not yet']} more" in text


def test_a_butterfly_that_can_breed_is_not_told_to_lack_hosts():
    """Ten swamp milkweeds are a brood's; that spares find no room is no lack."""
    bed = design_bed("Pennsylvania", "12x6ft", soil="clay", wetness="wet", wishes="monarch", style="meadow")
    assert bed.butterflies["verdict"].tolist() == ["can breed"]
    assert "hosts for the monarch" not in bed_text(bed)

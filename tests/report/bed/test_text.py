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

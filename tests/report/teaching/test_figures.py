"""Figures of stages: sound SVG, inside its frame, with the colours of the tables."""

import itertools
import re
from xml.etree import ElementTree

import pytest

from habitat.knowledge.looks import stage_drawings
from habitat.knowledge.schema import STAGES
from habitat.report.teaching.figures import COLORS, EGGS, FORE, HIGH, HIND, WIDE, figure
from tests.support.choice_yards import knowledge

SHAPES = {
    "egg": ("", *EGGS),
    "larva": ("", "smooth", "slug", "spiny", "hairy", "horned", "tailed", "feelers", "looper"),
    "pupa": ("", "hanging", "girdled", "cocoon", "lying"),
    "adult": ("", *FORE),
}
MARKS = STAGES.columns["marks"].choices


@pytest.mark.parametrize("stage", SHAPES)
def test_every_shape_with_every_mark_is_sound_and_shows_its_colours(stage):
    for shape, marks in itertools.product(SHAPES[stage], MARKS):
        svg = figure(
            stage, {"shape": shape, "color": "orange", "marks": marks, "mark_color": "blue"}, "x & <y>"
        )
        root = ElementTree.fromstring(svg)
        assert root.attrib["viewBox"] == f"0 0 {WIDE} {HIGH}"
        assert COLORS["orange"] in svg or marks in ("border", "veins", "bands")
        for circle in root.iter("{http://www.w3.org/2000/svg}circle"):
            x, y, r = (float(circle.attrib[k]) for k in ("cx", "cy", "r"))
            assert x - r >= -1
            assert x + r <= WIDE + 1
            assert -1 <= y - r <= y + r <= HIGH + 1


def test_marks_are_drawn_where_they_are_told_and_not_where_their_colour_is_not():
    plain = figure("adult", {"shape": "rounded", "color": "white", "marks": "none", "mark_color": ""}, "a")
    assert plain == figure(
        "adult", {"shape": "rounded", "color": "white", "marks": "bands", "mark_color": ""}, "a"
    )
    assert plain != figure(
        "adult", {"shape": "rounded", "color": "white", "marks": "bands", "mark_color": "red"}, "a"
    )


def test_every_kind_of_the_tables_has_an_adult_and_young_to_draw():
    """Words of the tables are those that the figures know; each species has a row for its adult."""
    known = knowledge()
    assert set(FORE) == set(HIND) == set(SHAPES["adult"][1:])
    for name in known.butterflies.index:
        drawn = stage_drawings(known, name)
        assert "adult" in drawn, name
        assert {"egg", "larva", "pupa"} <= drawn.keys(), name
        for stage, look in drawn.items():
            assert look["shape"] in SHAPES[stage], (name, stage)
            assert look["color"] in COLORS
            assert look["marks"] in MARKS
            first = re.match(r"[a-z]+", look["looks"])
            assert stage != "adult" or first[0] == look["color"]

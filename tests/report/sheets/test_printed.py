"""Sheets as they come from the printer: read and drawn by PDFium, a general-purpose PDF library."""

import itertools
import math
import re
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pypdfium2
import pytest
import shapely
import textstat
from scipy import ndimage

from habitat.report.sheets.data import sheet_data, sized
from habitat.report.sheets.drawing import WORDS_MM
from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.files import sheet_setter, write_sheets
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.squares import NEAR_M
from habitat.report.sheets.yard import yard_drawing
from habitat.report.typeset import head
from habitat.report.words.numbers import Units
from tests.report.small_plan import small_plan

MM_PT = 72 / 25.4
MARGIN_PT = 11 * MM_PT
MOST_WORDS = 900


@pytest.fixture(scope="module", params=[("us", "letter"), ("metric", "a4")], ids=["us", "metric"])
def printed(request, tmp_path_factory):
    units, paper = request.param
    plan = small_plan(tmp_path_factory.mktemp("study"), report={"units": units, "paper": paper})
    files = write_sheets(plan, tmp_path_factory.mktemp("out"), ["0007", "0012", "0021"])
    return [pypdfium2.PdfDocument(file) for file in files[:-1]]


def pieces(page):
    """Return (words, west, bottom, east, top) [pt] of every piece of text of a page."""
    text = page.get_textpage()
    boxes = [text.get_rect(k) for k in range(text.count_rects())]
    return [(text.get_text_bounded(*box).strip(), *box) for box in boxes]


def test_nothing_is_cut_off_at_the_edge_of_the_paper(printed):
    for page in (page for document in printed for page in document):
        wide, high = page.get_size()
        found = pieces(page)
        assert len(found) > 10
        for words, west, bottom, east, top in found:
            inside = (
                west >= MARGIN_PT - 1
                and east <= wide - MARGIN_PT + 1
                and bottom >= 6 * MM_PT
                and top <= high - 25
            )
            assert inside, words


def test_no_words_lie_over_others(printed):
    for page in (page for document in printed for page in document):
        for a, b in itertools.combinations([p for p in pieces(page) if p[0]], 2):
            over_x = min(a[3], b[3]) - max(a[1], b[1])
            over_y = min(a[4], b[4]) - max(a[2], b[2])
            assert over_x < 0.6 or over_y < 0.6, (a[0], b[0])


def test_a_sheet_is_short_and_in_three_pages(printed):
    for document in printed:
        texts = [page.get_textpage().get_text_bounded() for page in document]
        assert len(texts) == 3
        assert len(re.findall(r"[A-Za-z][A-Za-z'’-]+", " ".join(texts))) <= MOST_WORDS
        for first, text in zip(("plants", "Beds to dig", "The year in this yard"), texts, strict=True):
            assert first in text.split("\r\n1\r\n")[0][:400]


@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_sheet_reads_at_grade_seven_or_below(tmp_path, units):
    """The grade of Flesch and Kincaid (1975) as the library textstat works it out, over all that is prose."""
    plan = small_plan(tmp_path, report={"units": units})
    for yard in ("0007", "0012", "0021"):
        facts = FactFinder(plan).of(yard)
        sheet = sheet_data(facts, lay_out(facts))
        parts = [row for part in sheet["parts"] for row in part["rows"]]
        lines = [*sheet["safety"], sheet["defer"], *parts, *sheet["mind"], sheet["layout"]["words"]]
        lines += [row["text"] for row in sheet["care"]]
        assert len(lines) > 15
        prose = " ".join(line.rstrip(".") + "." for line in lines)
        assert textstat.flesch_kincaid_grade(prose) <= 7.0


def test_a_heading_is_not_left_alone_at_the_foot_of_a_page(printed):
    heads = {"Laying the beds out", "Not possible here", "What is not known", "Care", "Please mind"}
    for page in (page for document in printed for page in document):
        found = [p for p in pieces(page) if p[2] > 15 * MM_PT]
        lowest = min(found, key=lambda p: p[2])
        assert lowest[0] not in heads


def under_a_tree(plan):
    """Return a yard whose house stands half under a tree's crown of 9 m."""
    facts = FactFinder(plan).of("0007")
    house = facts.around["buildings"].geometry.iloc[0]
    corner = shapely.get_coordinates(house)[0]
    trees = gpd.GeoDataFrame({"crown_m": [9.0]}, geometry=[shapely.Point(corner)], crs=plan.yards.crs)
    standing = next(plan.existing_plants.assign(yard_id="0007").itertuples(index=False))
    standing = standing._replace(geometry=shapely.Point(corner), crown_m2=60.0, count=1)
    rows = {**facts.rows, "existing_plants": [standing]}
    return replace(facts, around={**facts.around, "trees": trees}, rows=rows), house


def test_crowns_are_open_outlines_and_never_over_the_house(tmp_path):
    """Of a circle about a corner of the house a quarter lies over it: that quarter is not drawn."""
    plan = small_plan(tmp_path)
    facts, _ = under_a_tree(plan)
    drawn = yard_drawing(facts, lay_out(facts), (180.0, 150.0), Units("metric"))
    roofs = [shapely.Polygon(m["rings"][0]) for m in drawn["marks"] if m["look"] == "building"]
    crowns = [m for m in drawn["marks"] if m["look"] in ("crown", "standing")]
    assert {m["look"] for m in crowns} == {"crown", "standing"}
    assert {m["kind"] for m in crowns} == {"line"}  # nothing that has an inside to fill
    for mark in crowns:
        ring = shapely.LineString(mark["points"])
        assert all(roof.buffer(-0.05).intersection(ring).is_empty for roof in roofs)
    length = sum(shapely.LineString(m["points"]).length for m in crowns if m["look"] == "crown")
    scale = int(re.search(r"1:(\d+)", drawn["scale"])[1])
    assert length < 0.8 * math.pi * 9000 / scale


def test_a_house_under_a_crown_is_printed_grey_all_over(tmp_path):
    """On paper the house is as large as on the ground, but for words and letters on it: no disc hides it."""
    plan = small_plan(tmp_path, report={"paper": "a4"})
    facts, house = under_a_tree(plan)
    sheet = sheet_data(facts, lay_out(facts)) | sized(facts, lay_out(facts), [11.0] * 3, (150.0, 150.0))
    setter = sheet_setter(plan)
    pdf = setter.pdf({**head(plan, "x"), "sheets": [{**sheet, "plants": [], "safety": []}]})
    grey = np.asarray(pypdfium2.PdfDocument(pdf)[0].render(scale=4).to_pil().convert("L"), float)
    parts, _ = ndimage.label(np.abs(grey - 205) < 4)
    largest = np.bincount(parts.ravel())[1:].max()
    scale = int(re.search(r"1:(\d+)", sheet["yard"]["scale"])[1])
    expected = house.area * (1000 / scale * MM_PT * 4) ** 2
    assert 0.8 * expected < largest < 1.02 * expected


def test_letters_and_numbers_of_the_plan_lie_over_nothing_else(tmp_path):
    plan = small_plan(tmp_path)
    for yard in ("0007", "0012", "0021"):
        facts = FactFinder(plan).of(yard)
        drawn = yard_drawing(facts, lay_out(facts), (180.0, 120.0), Units("us"))
        written = [m for m in drawn["marks"] if m["kind"] == "words" and m["look"] in ("key", "bed-number")]
        beds = [shapely.Polygon(m["rings"][0]) for m in drawn["marks"] if m["look"] == "bed"]
        assert {m["text"] for m in written if m["look"] == "bed-number"} == {"1", "2"}
        boxes = []
        for mark in written:
            letter, air, high = WORDS_MM[mark["look"]]
            half = (letter * len(mark["text"]) + air) / 2
            x, y = mark["at"]
            boxes.append(shapely.box(x - half, y - high / 2, x + half, y + high / 2))
            if mark["look"] == "bed-number":
                assert not any(bed.intersects(boxes[-1]) for bed in beds)
        assert not any(a.intersects(b) for a, b in itertools.combinations(boxes, 2))


def yard_with_a_far_bed(tmp_path, **around):
    """Return a yard of 120 m with a house of 10 m in its middle and a bed 24 m off; ``around`` from there."""
    plan = small_plan(tmp_path)
    facts = FactFinder(plan).of("0007")
    here = facts.shape.centroid
    house = shapely.box(here.x - 5, here.y - 5, here.x + 5, here.y + 5)
    bed = shapely.box(here.x + 30, here.y + 20, here.x + 36, here.y + 22)
    around = {name: shapely.affinity.translate(shape, here.x, here.y) for name, shape in around.items()}
    frame = {"crs": plan.yards.crs}
    yard = facts.yard.copy()
    yard["geometry"] = shapely.box(here.x - 60, here.y - 60, here.x + 60, here.y + 60)
    return replace(
        facts,
        yard=yard,
        rows={**facts.rows, "beds": [facts.rows["beds"][0]._replace(geometry=bed)], "plant_points": []},
        around={
            name: gpd.GeoDataFrame(geometry=[shape], **frame)
            for name, shape in {"buildings": house, **around}.items()
        },
    )


NEARER = {
    "paving": ("at a corner of the paving", shapely.box(28, 12, 40, 14)),
    "fences": ("at an end or bend of a fence", shapely.LineString([(27, 26), (40, 26)])),
}
"""What lies within 15 m of both ends of the bed, from the middle of the yard [m]."""


@pytest.mark.parametrize("layer", NEARER)
def test_no_measure_is_long_where_something_nearer_serves(tmp_path, layer):
    """A bed 24 m from the house, with a path 4 m off or a fence 4 m behind: those are measured from."""
    kind, shape = NEARER[layer]
    layout = lay_out(yard_with_a_far_bed(tmp_path, **{layer: shape}))
    assert len(layout.ties) == 2
    assert set(layout.kinds.values()) == {kind}
    for tie in layout.ties:
        assert max(tie.first_m, tie.second_m) <= NEAR_M
    alone = lay_out(yard_with_a_far_bed(tmp_path))
    assert set(alone.kinds.values()) == {"at a corner of a building"}


def test_a_bed_that_is_far_from_the_house_is_measured_from_one_between(tmp_path):
    """Bed 1 lies 24 m from the house and bed 2 half way: bed 2 is laid out first, bed 1 from its corners."""
    facts = yard_with_a_far_bed(tmp_path)
    here, far = facts.shape.centroid, facts.rows["beds"][0]
    between = shapely.box(here.x + 13, here.y + 9, here.x + 20, here.y + 11)
    beds = [far, far._replace(bed_number=2, geometry=between)]
    layout = lay_out(replace(facts, rows={**facts.rows, "beds": beds}))
    assert [t.bed_number for t in layout.ties] == [2, 2, far.bed_number, far.bed_number]
    assert {name for t in layout.ties[2:] for name in (t.first, t.second)} <= {"1a", "2a", "2b"}
    longest = max(max(t.first_m, t.second_m) for t in layout.ties)
    assert longest < max(max(t.first_m, t.second_m) for t in lay_out(facts).ties)

"""Plans at true scale, measured from the files themselves: PDF by the library pdfium, SVG as XML."""

import ctypes
import math
import re
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
import shapely
from pypdfium2 import raw

from habitat.report.handover.files import handover_jobs
from habitat.report.handover.plan import PAPER_MM, plan_data
from habitat.report.jobs import Shared
from habitat.report.sheets.facts import FactFinder
from tests.report.small_plan import small_plan

MM_PER_PT = 25.4 / 72
BED_GREY = 247
"""A bed is filled with this grey, and nothing else is (assets/drawing.typ)."""


@pytest.fixture(scope="module", params=["a3", "letter"])
def made(request, tmp_path_factory):
    """Return the plan, the files of a yard, and the paper; US units on letter."""
    units = "us" if request.param == "letter" else "metric"
    report = {"formats": ["handover"], "plan_paper": request.param, "units": units}
    plan = small_plan(tmp_path_factory.mktemp("study"), report=report)
    shared, folder = Shared(plan), tmp_path_factory.mktemp("handover")
    files = handover_jobs(shared, folder)[0](shared)
    return plan, {file.suffix: file for file in reversed(files)}, request.param


def scale_told(text):
    """Return what the plan says its scale is, one to so much."""
    return int(re.search(r"1:(\d+)\)? when printed at full size", text)[1])


def filled_paths(page, grey):
    """Return the outlines of a page that are filled with a grey, as polygons on paper [mm]."""
    out = []
    for item in page.get_objects(filter=(raw.FPDF_PAGEOBJ_PATH,)):
        red, green, blue, alpha = (ctypes.c_uint() for _ in range(4))
        raw.FPDFPageObj_GetFillColor(item.raw, red, green, blue, alpha)
        if [red.value, green.value, blue.value] != [grey] * 3:
            continue
        m = item.get_matrix()
        places = []
        for k in range(raw.FPDFPath_CountSegments(item.raw)):
            x, y = ctypes.c_float(), ctypes.c_float()
            raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(item.raw, k), x, y)
            places.append((m.a * x.value + m.c * y.value + m.e, m.b * x.value + m.d * y.value + m.f))
        out.append(shapely.Polygon(np.array(places) * MM_PER_PT))
    return out


def width_and_length(shape):
    ring = shapely.get_coordinates(shape.minimum_rotated_rectangle)
    return sorted(math.dist(ring[k], ring[k + 1]) for k in (0, 1))


def beds_of(plan):
    return plan.beds[plan.beds["yard_id"] == "0007"]


def test_beds_on_paper_times_the_scale_are_beds_on_the_ground(made):
    plan, files, paper = made
    page = pypdfium2.PdfDocument(files[".pdf"])[0]
    assert [s * MM_PER_PT for s in page.get_size()] == pytest.approx(PAPER_MM[paper], abs=0.1)
    scale = scale_told(page.get_textpage().get_text_bounded())
    assert scale in ((48, 96, 192) if paper == "letter" else (50, 100))
    drawn = sorted(filled_paths(page, BED_GREY), key=lambda p: p.area)[-len(beds_of(plan)) :]
    ground = sorted(beds_of(plan).geometry, key=lambda p: p.area)
    for on_paper, bed in zip(drawn, ground, strict=True):
        metres = [mm / 1000 * scale for mm in width_and_length(on_paper)]
        assert metres == pytest.approx(width_and_length(bed), abs=0.01)
        assert on_paper.area / 1e6 * scale**2 == pytest.approx(bed.area, rel=2e-3)


def svg_paths(path, fill):
    """Return the paths with a fill as polygons on paper [mm], transforms followed."""
    out = []

    def walk(node, matrix):
        told = re.findall(r"(matrix|translate|scale)\(([^)]*)\)", node.get("transform", ""))
        for kind, numbers in told:
            n = [float(v) for v in re.split(r"[ ,]+", numbers.strip())]
            pair = (*n, 0.0 if kind == "translate" else n[0])[:2]  # the second may be left out
            moved = {"translate": (1, 0, 0, 1, *pair), "scale": (pair[0], 0, 0, pair[1], 0, 0)}
            a, b, c, d, e, f = moved.get(kind, n)
            matrix = matrix @ np.array([[a, c, e], [b, d, f], [0, 0, 1]])
        if node.get("fill") == fill and node.get("d"):
            out.append(path_of(node.get("d"), matrix))
        for child in node:
            walk(child, matrix)

    walk(ElementTree.parse(path).getroot(), np.eye(3))
    return out


def path_of(text, matrix):
    """Return the polygon of a path of straight lines, by the grammar of SVG 1.1, section 8.3 [mm]."""
    at, places = np.zeros(2), []
    for command, numbers in re.findall(r"([MmLlHhVvZz])([^A-Za-z]*)", text):
        n = [float(v) for v in re.findall(r"-?[\d.]+(?:e-?\d+)?", numbers)]
        start = at if command.islower() else np.zeros(2)
        if command in "MmLl":
            at = start + n
        elif command in "Hh":
            at = np.array([start[0] + n[0], at[1]])
        elif command in "Vv":
            at = np.array([at[0], start[1] + n[0]])
        places.append(at)
    return shapely.Polygon([(matrix @ (*p, 1.0))[:2] * MM_PER_PT for p in places])


def test_the_svg_has_the_same_scale(made):
    plan, files, _ = made
    scale = scale_told(pypdfium2.PdfDocument(files[".pdf"])[0].get_textpage().get_text_bounded())
    root = ElementTree.parse(files[".svg"]).getroot()
    assert root.get("width").endswith("pt")
    drawn = sorted((p.area / 1e6 * scale**2 for p in svg_paths(files[".svg"], "#f7f7f7")), reverse=True)
    ground = sorted(beds_of(plan).area, reverse=True)
    assert drawn[: len(ground)] == pytest.approx(ground, rel=2e-3)


def test_every_bed_is_drawn_at_one_of_the_two_large_scales(made):
    """Measured on all pages with a plan, PDF and SVG: 1:50 or 1:100, or 1:48 or 1:96."""
    plan, files, paper = made
    pages = pypdfium2.PdfDocument(files[".pdf"])
    plans = sorted(files[".svg"].parent.glob("yard-0007*.svg"), key=lambda p: (len(p.name), p.name))
    assert len(plans) > 1
    seen = {"pdf": set(), "svg": set()}
    for page, svg in zip(pages, plans, strict=False):
        text = " ".join(page.get_textpage().get_text_bounded().split())
        scale = int(re.search(r"1:(\d+)", text)[1])
        if scale in ((48, 96) if paper == "letter" else (50, 100)):
            seen["pdf"] |= beds_among(plan, filled_paths(page, BED_GREY), scale)
            seen["svg"] |= beds_among(plan, svg_paths(svg, "#f7f7f7"), scale)
    assert seen["pdf"] == seen["svg"] == set(beds_of(plan)["bed_number"])


def beds_among(plan, shapes, scale):
    """Return the numbers of the beds that are as large as shapes on paper at a scale."""
    areas = [p.area / 1e6 * scale**2 for p in shapes]
    beds = beds_of(plan).itertuples()
    return {b.bed_number for b in beds if pytest.approx(b.geometry.area, rel=2e-3) in areas}


def test_the_plan_says_what_is_needed_to_build_it(made):
    plan, files, _ = made
    text = " ".join(page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(files[".pdf"]))
    text = " ".join(text.split())
    mine = plan.plantings[plan.plantings["yard_id"] == "0007"]
    for row in mine.itertuples():
        assert f"{row.plant} {row.common_name} {row.count}" in text
    for told in ("Parcel lines are not a survey", "buried lines marked", "Local codes", "looking", "eye"):
        assert told in text
    assert "1–" not in text


def test_nothing_that_is_written_lies_over_another(made):
    """Boxes of words on the plan, from the file: numbers, letters, measures."""
    _, files, paper = made
    words = pypdfium2.PdfDocument(files[".pdf"])[0].get_textpage()
    boxes = [words.get_rect(k) for k in range(words.count_rects())]
    shapes = [shapely.box(*b).buffer(-0.4) for b in boxes]
    high = PAPER_MM[paper][1] / MM_PER_PT
    plan = [s for s in shapes if not s.is_empty and 140 < s.centroid.y < high - 80]
    tree = shapely.STRtree(plan)
    a, b = tree.query(plan, predicate="intersects")
    assert not [(plan[i].bounds, plan[j].bounds) for i, j in zip(a, b, strict=True) if i < j]


def test_a_yard_without_plants_is_drawn_all_the_same(tmp_path):
    plan = small_plan(tmp_path)
    facts = FactFinder(plan).of("0044")
    data = plan_data(facts)
    assert (data["bloom"], data["section"], data["schedule"]) == ([], None, [])
    assert data["plan"]["marks"]

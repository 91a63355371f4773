"""Sheets as printed: text against plan.gpkg, cautions, silence about neighbours, size of type, order."""

import io
import json
import math
import re
from dataclasses import replace

import geopandas as gpd
import networkx
import numpy as np
import pandas as pd
import pypdf
import pytest
import shapely
import typst
from PIL import Image

from habitat.ground.unseen import OBSTACLES
from habitat.knowledge.care import YardFlags, cautions
from habitat.knowledge.place import native_here
from habitat.knowledge.region import Region
from habitat.report.package.geopackage import write_geopackage
from habitat.report.page.html import asset
from habitat.report.page.page import write_page
from habitat.report.public.reduce import public_plan
from habitat.report.sheets.care import left_out_lines, safety
from habitat.report.sheets.data import sheet_data, sized
from habitat.report.sheets.drawing import WORDS_MM, Paper, scale_for
from habitat.report.sheets.facts import FactFinder, street_order
from habitat.report.sheets.files import write_sheets
from habitat.report.sheets.further import further
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.numbers import plant_numbers
from habitat.report.sheets.words import chain_lines
from habitat.report.sheets.yard import yard_drawing
from habitat.report.sheets.year import year_strip
from habitat.report.typeset import Typesetter, head
from habitat.report.words.numbers import Units
from tests.report.bought import as_bought
from tests.report.small_plan import small_plan

IDS = ("QX-101", "QX-102", "QX-103", "QX-104", "QX-105", "QX-106", "QX-107")
PLANNED = IDS[:6]
PAGE_PT = {"letter": (612.0, 792.0), "a4": (595.3, 841.9)}
"""ANSI letter is 8.5 x 11 in; ISO 216 A4 is 210 x 297 mm; a point is 1/72 in."""


def flowing(text):
    """Return text as one line; words that break at their hyphen joined."""
    return " ".join(re.sub(r"-\s*\n", "-", text).split())


def read(path):
    """Return the text of a sheet as one line, and (size [pt], text) of every piece of it."""
    sizes = []

    def note(text, page_matrix, text_matrix, font, size):
        if text.strip():
            scale = math.hypot(*text_matrix[:2]) * math.hypot(*page_matrix[:2])
            sizes.append((round(size * scale, 2), text.strip()))

    pages = [page.extract_text(visitor_text=note) for page in pypdf.PdfReader(path).pages]
    return flowing("\n".join(pages)), sizes


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(
        tmp_path_factory.mktemp("study"), yard_ids=IDS, report={"units": "us", "paper": "letter"}
    )


@pytest.fixture(scope="module")
def folder(plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("written")
    write_sheets(plan, folder)
    write_geopackage(plan, folder / "plan.gpkg")
    return folder


@pytest.fixture(scope="module")
def sheets(folder):
    return {yard: read(folder / f"yard-{yard}.pdf") for yard in PLANNED}


@pytest.fixture(scope="module")
def texts(sheets):
    return {yard: text for yard, (text, _) in sheets.items()}


@pytest.fixture(scope="module")
def metric(plan, tmp_path_factory):
    """Give the text of one sheet in metric units on A4, and its file."""
    folder = tmp_path_factory.mktemp("metric")
    study = plan.study.changed(report={"units": "metric", "paper": "a4"})
    (path, _) = write_sheets(replace(plan, study=study), folder, ["QX-101"])
    return read(path)[0], path


# --- what it says ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("yard", PLANNED)
def test_names_and_counts_are_those_of_the_package(folder, texts, plan, yard):
    table = gpd.read_file(folder / "plan.gpkg", layer="plantings")
    points = gpd.read_file(folder / "plan.gpkg", layer="plant_points")
    mine = table[table["yard_id"] == yard]
    listing = texts[yard].split("spacing in bloom bed cost")[1].split("At least 3 business")[0]
    for (plant, _), rows in mine.groupby(["plant", "form"]):
        keys = set(points.loc[(points["yard_id"] == yard) & (points["plant"] == plant), "key_number"])
        assert len(keys) == 1
        line = f"{keys.pop()} {rows.iloc[0].common_name} {plant} {rows['count'].sum()} {as_bought(rows)}"
        assert listing.count(line) == 1, line
    named = {p for p in plan.knowledge.plants.index if p in listing}
    assert named == set(mine["plant"])
    assert f"{mine['count'].sum()} plants" in texts[yard]


def test_every_plant_is_drawn_where_and_as_wide_as_the_package_says(plan, folder):
    facts = FactFinder(plan).of("QX-101")
    units = Units("us")
    drawn = yard_drawing(facts, lay_out(facts), (170.0, 120.0), units)
    scale = int(re.search(r"1:(\d+)", drawn["scale"])[1])
    circles = [m for m in drawn["marks"] if m["look"].startswith("plant-")]
    points = gpd.read_file(folder / "plan.gpkg", layer="plant_points")
    mine = points[points["yard_id"] == "QX-101"]
    mine = mine.set_geometry(mine.geometry.rotate(-drawn["turn"], origin=facts.shape.centroid))
    across = sorted(2 * m["r"] * scale / 1000 for m in circles)
    assert across == pytest.approx(sorted(mine["crown_m"]), abs=2e-3 * scale / 1000)
    west, north = mine.geometry.x.min(), mine.geometry.y.max()
    on_ground = sorted(((p.x - west), (north - p.y)) for p in mine.geometry)
    left, top = (min(m["at"][k] for m in circles) for k in (0, 1))
    on_paper = sorted(
        ((m["at"][0] - left) * scale / 1000, (m["at"][1] - top) * scale / 1000) for m in circles
    )
    np.testing.assert_allclose(on_paper, on_ground, atol=2e-3 * scale / 1000)


def test_tapes_are_as_long_as_the_ground_says(plan, texts):
    """Each corner of a bed lies where two tapes from corners of the house meet."""
    facts = FactFinder(plan).of("QX-101")
    layout = lay_out(facts)
    house = plan.layers.frame("buildings").geometry[0]
    corners = shapely.MultiPoint(shapely.get_coordinates(house))
    assert {t.bed_number for t in layout.ties} == {1, 2}
    for tie in layout.ties:
        bed = plan.beds[(plan.beds["yard_id"] == "QX-101") & (plan.beds["bed_number"] == tie.bed_number)]
        assert bed.geometry.iloc[0].buffer(0.01).covers(tie.at)
        assert corners.distance(layout.fixed[tie.first]) < 0.01
        ends = [(layout.fixed[tie.first], tie.foot or tie.at, tie.first_m)]
        ends.append((tie.foot or layout.fixed[tie.second], tie.at, tie.second_m))
        for letter, (start, end, far) in zip((tie.first, ""), ends, strict=True):
            assert start.distance(end) == pytest.approx(far)
            feet, inches = divmod(round(far / 0.0254), 12)
            assert f"{letter} {feet} ft".strip() + (f" {inches} in" if inches else "") in texts["QX-101"]


def far_bed(plan):
    """Return a yard six times as long and wide with one bed, 60 m from the house."""
    facts = FactFinder(plan).of("QX-101")
    shape = shapely.affinity.scale(facts.shape, 6.0, 6.0)
    house = facts.around["buildings"].geometry.iloc[0]
    bed = shapely.affinity.translate(shapely.box(-3, -1, 3, 1), house.centroid.x + 60.0, house.centroid.y)
    row = facts.rows["beds"][0]._replace(geometry=bed)
    yard = facts.yard.copy()
    yard["geometry"] = shape
    return replace(facts, yard=yard, rows={**facts.rows, "beds": [row], "plant_points": []})


@pytest.mark.parametrize("buildings", [True, False])
def test_a_part_of_a_large_yard_shows_what_its_beds_are_measured_from(plan, buildings):
    facts = far_bed(plan)
    if not buildings:
        facts = replace(facts, around={k: v for k, v in facts.around.items() if k != "buildings"})
    layout = lay_out(facts)
    assert layout.untied == ()
    drawn = yard_drawing(facts, layout, (180.0, 90.0), Units("us"))
    assert any(m["look"] == "building" for m in drawn["marks"]) == buildings
    letters = [m for m in drawn["marks"] if m["look"] == "fixed-words"]
    assert {m["text"] for m in letters} == set(layout.fixed) != set()
    for mark in letters:
        assert 0 < mark["at"][0] < drawn["width"]
        assert 0 < mark["at"][1] < drawn["height"]


def test_beds_are_told_by_length_and_width(plan, texts, metric):
    """Bed 2 is a circle of radius 1.3 m (8 ft 6 in across). Bed 1, along its lower side, is 11.0 m by 4.04 m.

    Its corners are (-5, -4), (5, -4.5), (6, -0.5), (-5, 0); the lower side falls by 2.86 degrees, so that the
    last two lie 4 cos 2.86 = 3.99 m and 3.5 cos 2.86 + 11 sin 2.86 = 4.04 m off it.
    """
    beds = plan.beds[plan.beds["yard_id"] == "QX-101"].set_index("bed_number")
    assert "2.6 m × 2.6 m, edge" in metric[0]
    assert "8 ft 6 in × 8 ft 6 in, edge" in texts["QX-101"]
    long, wide = map(float, re.search(r"Bed 1 [^×]* ([\d.]+) m × ([\d.]+) m, edge", metric[0]).groups())
    assert long >= wide
    bed = beds.loc[1, "geometry"]
    assert long * wide >= bed.area - 0.1
    assert long == pytest.approx(11.0, abs=0.05)
    assert wide == pytest.approx(4.04, abs=0.05)


IN_OTHER_WORDS = {
    "chewed_leaves": "Chewed leaves mean success.",
    "leave_litter": "Leave stems and fallen leaves over winter",
    "leave_stems": "Leave stems and fallen leaves over winter",
    "call_locator": "have buried lines marked by the utility locating service (811 in the United States)",
    "deer_cage": "Deer and rabbits feed here: cage young plants",
    "rabbit_cage": "cage young plants",
}
"""What the sheet says in its own words of cautions of the table."""


@pytest.mark.parametrize("yard", PLANNED)
def test_every_caution_that_applies_is_there(plan, texts, yard):
    given = plan.layers.yards.set_index("yard_id").loc[yard]
    flags = YardFlags(**{n: bool(given[n]) for n in ("sprayed", "children", "pets", "deer", "septic")})
    plants = sorted(set(plan.plantings.loc[plan.plantings["yard_id"] == yard, "plant"]))
    found = cautions(plan.knowledge, plants, flags)
    assert len(found) >= 8
    page = further(FactFinder(plan).of(yard))
    sheet = texts[yard].lower()
    said = f"{sheet} {' '.join([*page['rules'], *page['mind']])}".lower()
    held = {p for c in found if c.id.startswith("contain ") for p in c.plants}
    for caution in found:
        if caution.id.startswith("contain "):
            assert f" by {caution.id.removeprefix('contain ')}" in sheet
            continue
        if caution.id == "spreads" and held.issuperset(caution.plants):
            continue  # said by what holds them
        words = IN_OTHER_WORDS.get(caution.id, Units("us").told(caution.words))
        assert words.lower().rstrip(".") in (sheet if caution.plants else said), caution.id
    for words in ("811", "spray nothing", "local codes (weed height", "parcel lines are not a survey"):
        assert words in sheet
    assert len(page["rules"]) == 5
    assert all(flowing(rule).lower() in sheet for rule in page["rules"])


def test_cautions_follow_household_and_ground(texts):
    """Yard 101 has children and a sight triangle, 102 pets, 103 and 104 deer: cases for the head."""
    children = "teach children not to taste it"
    assert [children in texts[y] for y in PLANNED] == [True, False, False, False, True, False]
    deer = "Deer and rabbits feed here"
    assert [deer in texts[y] for y in PLANNED] == [False, False, True, True, False, False]
    sight = "Keep plants at the drive below 30 in, or as the local code says"
    assert [sight in texts[y] for y in PLANNED] == [True, *[False] * 5]


def with_answer(plan, yard, **said):
    """Return the facts of a yard whose household says something else."""
    yards = plan.layers.yards.assign(**{name: "" for name in said if name not in plan.layers.yards})
    for name, value in said.items():
        yards.loc[yards["yard_id"] == yard, name] = value
    layer = replace(plan.layers.vectors["yards"], frame=yards)
    layers = replace(plan.layers, vectors=plan.layers.vectors | {"yards": layer})
    return FactFinder(replace(plan, layers=layers)).of(yard)


def test_what_is_left_out_for_the_answer_on_poisonous_plants_is_told(plan):
    """Yard 101 has children, 103 nobody: class 1 is left out where they live, all that harms for "none"."""
    knowledge = plan.knowledge
    native = {p for p in knowledge.plants.index if native_here(knowledge, p) is not False}
    rows = knowledge.hazard_classes
    major = native & set(rows.index[rows["class_four"].str.contains("1")])
    harms = native & {
        p for p in rows.index if "none" not in set(rows.loc[p, ["children_counted", "pets_counted"]])
    }
    assert major < harms
    (told,) = left_out_lines(FactFinder(plan).of("QX-101"))
    assert f"{len(major)} kinds of plants are left out" in told
    assert "away from play, taken where nobody answered" in told
    assert all(knowledge.plants.at[p, "common_name"] in told or len(major) > 6 for p in major)
    (none,) = left_out_lines(with_answer(plan, "QX-103", poisonous="none"))
    assert "Your answer on poisonous plants: none." in none
    assert "swamp milkweed (host of monarch)" in none
    assert int(re.search(r"(\d+) kinds", none)[1]) >= len(harms)
    assert left_out_lines(with_answer(plan, "QX-101", poisonous="all")) == []
    assert left_out_lines(FactFinder(plan).of("QX-103")) == []
    facts = with_answer(plan, "QX-103", poisonous="none")
    titles = [part["title"] for part in sheet_data(facts, lay_out(facts))["parts"]]
    assert "Left out for who lives here" in titles
    assert none in further(facts)["lacks"]


def test_a_caution_is_said_once(plan):
    """Of two cautions that begin alike the longer is told: the case for the head has wires twice."""
    closed = plan.site.closed_ground.copy()
    mine = closed.index[closed["yard_id"] == "QX-101"][:2]
    closed.loc[mine, "reason"] = "overhead wires"
    closed.loc[mine, "caution"] = [
        "No ladder near wires.",
        "No ladder near wires. Trees over 12 m stay away.",
    ]
    bed = plan.beds.geometry[0]
    closed.loc[mine, "geometry"] = [bed, bed]
    facts = FactFinder(replace(plan, site=replace(plan.site, closed_ground=closed))).of("QX-101")
    mind = safety(facts, Units("metric"))
    assert [line for line in (*mind.rules, *mind.more, *mind.general) if "ladder" in line] == [
        "No ladder near wires. Trees over 12 m stay away."
    ]


def test_the_year_shows_what_is_in_bloom_month_by_month(plan, folder):
    table = gpd.read_file(folder / "plan.gpkg", layer="plantings", ignore_geometry=True)
    mine = table[(table["yard_id"] == "QX-101") & table["purpose"].str.contains("nectar")]
    facts = FactFinder(plan).of("QX-101")
    months = [set() for _ in range(12)]
    for plant, span in zip(mine["plant"], mine["bloom_months"], strict=True):
        first, last = map(int, span.split("-"))
        for month in range(first, last + 1):
            months[month - 1].add(str(facts.keys[plant]))
    strip = year_strip(facts)
    assert [set(found) for found in strip["bloom"]] == months
    assert any(months)
    assert strip["season"] == [4, 10]
    assert {b["name"] for b in strip["butterflies"]} == {
        "monarch", "black swallowtail", "pearl crescent", "spicebush swallowtail",
    }  # fmt: skip


def test_the_year_marks_what_blooms_and_stands_already(plan, texts):
    """Common milkweed grows in QX-102; it flowers from June to August, as its row of the tables has it."""
    row = plan.knowledge.plants.loc["Asclepias syriaca"]
    assert (row["bloom_start_month"], row["bloom_end_month"]) == (6, 8)
    marked = {
        yard: [m for m, keys in enumerate(year_strip(FactFinder(plan).of(yard))["bloom"], 1) if "+" in keys]
        for yard in ("QX-101", "QX-102")
    }
    assert marked == {"QX-101": [], "QX-102": [6, 7, 8]}
    assert "+ stands already" in texts["QX-102"]
    assert "stands already" not in texts["QX-101"].split("The year in this yard")[1]


def test_what_stands_and_does_harm_is_named_with_what_to_plant_instead(plan, tmp_path):
    """A yard that is sprayed, with a tropical milkweed that somebody set: why, what to do, what instead."""
    layer = plan.layers.vectors["yards"]
    yards = layer.frame.assign(sprayed=layer.frame["yard_id"] == PLANNED[0])
    grown = plan.existing_plants.iloc[[0]].assign(
        yard_id=PLANNED[0], plant=None, name_given="tropical milkweed", butterflies=""
    )
    changed = replace(
        plan,
        layers=replace(plan.layers, vectors={**plan.layers.vectors, "yards": replace(layer, frame=yards)}),
        existing_plants=gpd.GeoDataFrame(pd.concat([plan.existing_plants, grown]), crs=grown.crs),
    )
    write_sheets(changed, tmp_path)
    told, _ = read(tmp_path / f"yard-{PLANNED[0]}.pdf")
    assert "Tropical milkweed grows here. Where winters are mild it stays green" in told
    assert "A native plant serves better. Instead: butterfly milkweed." in told
    assert "no host bed, it would be a trap" in told
    other, _ = read(tmp_path / f"yard-{PLANNED[1]}.pdf")
    assert "trap" not in other
    assert "grows here. " not in other


def test_no_neighbour_is_named_or_located(plan, texts, tmp_path):
    """Neither another yard nor any address or habitat stands on a sheet, for the group or for everybody."""
    own = dict(zip(plan.layers.yards["yard_id"], plan.layers.yards["address"], strict=True))
    addresses = list(own.values())
    for yard, text in texts.items():
        others = [
            other
            for other in (*IDS, *addresses, "Long Meadow", "Alder Wood")
            if other not in (yard, own[yard])
        ]
        assert [o for o in others if re.search(rf"(?<!\d){o}\b", text)] == [], yard
    shown = public_plan(replace(plan, study=plan.study.changed(report={"audience": "public"})))
    *files, _ = write_sheets(shown, tmp_path)
    assert len(files) == 4
    for path in files[:2]:
        text, own = read(path)[0], path.stem.removeprefix("yard-")
        numbers = set(re.findall(r"\b00[1-9]\b", text))
        assert numbers == {own}
        assert [o for o in (*IDS, *addresses, "Long Meadow", "Alder Wood") if o in text] == []
        assert "For everybody: only what households agreed to show." in text


def test_each_page_says_for_whom_it_is(texts):
    for text in texts.values():
        assert text.count("For this household and the group: please do not publish or pass on.") == 1
        assert text.count("For this household and the group") == 3


def test_lengths_are_in_the_units_of_the_study(texts, metric):
    us = " ".join(texts.values())
    assert re.findall(r"\d (?:m|cm|mm|m²)\b", us) == []
    assert (
        re.findall(r"\d (?:ft|in|sq ft)\b(?! the)", re.sub(r"30 cm \(1 ft\)|bed 1 in five", "", metric[0]))
        == []
    )
    assert "1 in = " in us
    assert re.search(r"\d m² beds", metric[0])


def test_what_helps_most_to_measure_is_named(texts):
    for text in texts.values():
        told = text.split("Two measurements that would help most")[1].split("For this household")[0]
        assert told.count("•") == 2


def test_a_yard_that_is_only_a_stop_on_the_way_is_told_so(plan):
    """Ways lead over yards where a butterfly only drinks; their sheets said nothing of it."""
    weak = plan.chain[(plan.chain["butterfly"] == "Papilio troilus") & plan.chain["weakest"]]
    on_way = next(y for y in [*weak["from_yard"], *weak["to_yard"]] if not y.startswith("anchor"))
    table = plan.yard_butterflies.copy()
    table.loc[(table["yard_id"] == on_way) & (table["butterfly"] == "Papilio troilus"), "habitat_m2"] = 0.0
    lines = chain_lines(FactFinder(replace(plan, yard_butterflies=table)).of(on_way), Units("us"))
    assert lines[-1] == (
        "A stop for nectar on the likeliest way of the spicebush swallowtail between the habitats at the two "
        "ends, at its weakest step: host plants here would count most."
    )


def all_told(plan):
    """Return the plan of a study in which every obstacle is told of everywhere."""
    layer = replace(plan.layers.vectors["water"], frame=plan.yards[["geometry"]])
    vectors = {**plan.layers.vectors, **dict.fromkeys(OBSTACLES, layer)}
    return replace(plan, layers=replace(plan.layers, vectors=vectors))


def test_one_measurement_is_not_called_two(plan):
    plan = all_told(plan)
    yards = plan.site.yards.assign(sun_h_known=1.0, sun_h_source="counted by people")
    for need in ("ph", "texture", "drainage"):
        yards = yards.assign(**{f"{need}_source": "soil test", f"{need}_known": 1.0})
    given = replace(plan, site=replace(plan.site, yards=yards))
    facts = FactFinder(given).of("QX-101")
    titles = [part["title"] for part in sheet_data(facts, lay_out(facts))["parts"]]
    assert "The measurement that would help most" in titles


def test_sun_that_people_counted_is_not_asked_for_again(plan, tmp_path):
    plan = all_told(plan)
    yards = plan.site.yards.assign(sun_h_known=1.0, sun_h_source="buildings", ph_source="soil test")
    yards = yards.assign(ph_known=1.0, texture_source="soil test", texture_known=1.0)
    yards = yards.assign(drainage_source="soil test", drainage_known=1.0)
    for source, asked in (("buildings", True), ("counted by people", False)):
        given = replace(plan, site=replace(plan.site, yards=yards.assign(sun_h_source=source)))
        text = read(write_sheets(given, tmp_path, ["QX-101"])[0])[0]
        assert ("Count the hours of direct sun" in text) == asked


def without(plan, *tables):
    """Return the plan with some of its tables empty."""
    return replace(plan, **{name: getattr(plan, name).iloc[:0] for name in tables})


def test_a_yard_without_plants_says_why_and_what_to_measure(plan, tmp_path):
    """Where soil or sun is unknown, the sheet does not blame them: it says that measuring may change it."""
    told = "no host for the monarch: sun or soil here do not fit it; no nectar in May: money went elsewhere"
    bare = without(plan, "plantings", "beds", "plant_points")
    bare = replace(bare, yard_results=plan.yard_results.assign(relaxed=told))
    known, unknown = (
        replace(bare, site=replace(plan.site, yards=plan.site.yards.assign(ph_known=share)))
        for share in (1.0, 0.4)
    )
    for given, blamed in ((known, False), (unknown, True)):
        text = read(write_sheets(given, tmp_path, ["QX-101"])[0])[0]
        assert "Nothing is planned for this yard." in text
        assert "No host for the monarch: sun or soil here do not fit it." in text
        assert "No nectar in May: money went elsewhere." in text
        assert text.split("Two measurements that would help most")[1].count("•") == 2
        assert ("the measurements named here may change that" in text) == blamed
        assert ("soil reaction (pH) in 60% of the yard" in text) == blamed


def test_no_reason_is_cut_however_long(plan, tmp_path):
    kinds = "; ".join(f"for {n} of 30 kinds, reason number {n} that takes its room" for n in range(1, 13))
    told = f"no host for the monarch: {kinds}; only 2 nectar species in fall, 3 wanted"
    given = replace(plan, yard_results=plan.yard_results.assign(relaxed=told))
    text = read(write_sheets(given, tmp_path, ["QX-101"])[0])[0]
    assert "reason number 12 that takes its room." in text
    assert "Only 2 nectar species in fall, 3 wanted." in further(FactFinder(given).of("QX-101"))["lacks"]


def test_without_buildings_beds_are_told_in_words(plan, tmp_path):
    """A plant at the corners of equal triangles of side s takes s^2 x sqrt(3) / 2 of ground."""
    bare = without(plan, "beds", "plant_points")
    study = plan.study.changed(report={"units": "metric"})
    given = replace(bare, study=study, site=replace(plan.site, placeable=False))
    text = read(write_sheets(given, tmp_path, ["QX-101"])[0])[0]
    assert "No building outlines were given, so beds are not placed" in text
    mine = plan.plantings[plan.plantings["yard_id"] == "QX-101"]
    ground = mine["count"] * mine["spacing_m"] ** 2 * math.sqrt(3) / 2
    for number, (_, rows) in enumerate(ground.groupby(mine["bed_id"]), 1):
        assert f"Bed {number}: about {rows.sum():.1f} m²" in text
    assert f"{ground.sum():.1f} m² beds (2)" in text
    assert "Beds to dig" not in text


# --- how it looks ----------------------------------------------------------------------------------------


def test_pages_are_three_and_of_their_size(folder, metric):
    for path, size in ((folder / "yard-QX-101.pdf", "letter"), (metric[1], "a4")):
        reader = pypdf.PdfReader(path)
        assert len(reader.pages) == 3
        for page in reader.pages:
            box = tuple(float(v) for v in page.mediabox[2:])
            assert box == pytest.approx(PAGE_PT[size], abs=0.1)


def test_fonts_are_inside(folder):
    reader = pypdf.PdfReader(folder / "yard-QX-101.pdf")
    fonts = {}
    for page in reader.pages:
        fonts |= page["/Resources"]["/Font"]
    assert fonts
    for font in fonts.values():
        inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert {"/FontFile2", "/FontFile3"} & set(inner)


def test_no_text_is_smaller_than_seven_points(sheets):
    for _, sizes in sheets.values():
        assert len(sizes) > 100
        assert [entry for entry in sizes if entry[0] < 6.99] == []


def test_nothing_is_told_by_colour(folder):
    """Every colour of a sheet is a grey, so that it reads alike in black and white."""
    for page in pypdf.PdfReader(folder / "yard-QX-101.pdf").pages:
        content = page.get_contents().get_data().decode("latin-1")
        for r, g, b in re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG|scn|SCN)\b", content):
            assert max(map(float, (r, g, b))) - min(map(float, (r, g, b))) < 0.06


def test_growth_forms_differ_without_colour(plan, tmp_path):
    """The marks of the five forms, printed in grey, differ pairwise in far more than an edge."""
    source = (
        '#import "drawing.typ": swatch\n#set page(width: 8mm, height: 5mm, margin: 1mm)\n'
        '#for look in ("forb", "graminoid", "vine", "shrub", "tree") { page(swatch("plant-" + look)) }\n'
    )
    (tmp_path / "drawing.typ").write_text(asset("drawing.typ"), encoding="utf-8")
    (tmp_path / "forms.typ").write_text(source, encoding="utf-8")
    pages = images(tmp_path / "forms.typ", {**head(plan, "x"), "sheets": []})
    assert len(pages) == 5
    for a in range(5):
        for b in range(a):
            differ = (np.abs(pages[a] - pages[b]) > 0.25).sum()
            inked = (np.minimum(pages[a], pages[b]) < 0.99).sum()
            assert differ > 0.1 * inked, (a, b)


def images(path, data):
    """Return the pages of a document as grey values (0 black to 1 white)."""
    made = typst.Compiler(str(path), root=str(path.parent)).compile(
        format="png", ppi=600, sys_inputs={"data": json.dumps(data)}
    )
    made = made if isinstance(made, list) else [made]
    return [np.asarray(Image.open(io.BytesIO(one)).convert("L"), float) / 255 for one in made]


def test_what_is_written_over_a_small_bed_stays_on_its_line(plan):
    """At 1 to 150 the bed itself is 24 mm wide, the line above it 34 mm."""
    facts = FactFinder(replace(plan, study=plan.study.changed(report={"units": "metric"}))).of("QX-101")
    shape = shapely.affinity.translate(shapely.box(0, 0, 3.6, 1.8), *facts.shape.centroid.coords[0])
    beds = [r._replace(geometry=shape, edge_m=shape.length) for r in facts.rows["beds"]]
    facts = replace(facts, rows={**facts.rows, "beds": beds, "plant_points": []})
    layout = lay_out(facts)
    base = sheet_data(facts, layout)
    sheet = base | sized(facts, layout, [8.0] * 3, (90.0, 20.0))
    assert sheet["beds"]["scale"] == "1:150"
    pdf = Typesetter("sheet.typ", plan.study.study.date).pdf({**head(plan, "Small"), "sheets": [sheet]})
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    assert text.count("3.6 m × 1.8 m, edge 10.8 m") == len(beds) == 2


def test_the_largest_scale_that_fits_is_taken():
    assert scale_for(10.0, 5.0, (100.0, 100.0), "metric") == 100
    assert scale_for(10.0, 5.0, (99.0, 100.0), "metric") == 125
    assert scale_for(30.48, 5.0, (254.0, 254.0), "us") == 120  # 100 ft on 10 in


class Point:
    """A row of ``plant_points`` as a drawing sees it."""

    def __init__(self, number, x, y, plant, crown_m):
        self.point_id, self.plant, self.bed_id = f"p{number:03d}", plant, "b"
        self.key_number, self.crown_m = {"one": 7, "two": 12}[plant], crown_m
        self.geometry = shapely.Point(x, y)


@pytest.mark.parametrize("spacing", [0.12, 0.2, 0.6])
def test_numbers_never_overlap_and_every_group_of_a_kind_has_its_own(spacing):
    """Plants of a kind nearer than 1.6 spreads, but for 4 mm, are one group: found anew by networkx."""
    points = [
        Point(10 * j + i, i * spacing, j * spacing, "two" if 3 <= i < 7 and 2 <= j < 5 else "one", spacing)
        for i in range(10)
        for j in range(8)
    ]
    paper = Paper((-1.0, -1.0, 10 * spacing + 1.0, 8 * spacing + 1.0), 100)
    marks = plant_numbers(points, paper, every=True)
    numbers = [m for m in marks if m["kind"] == "words"]
    letter, air, high = WORDS_MM["bed-key"]
    half = {m["text"]: (letter * len(m["text"]) + air) / 2 for m in numbers}
    for k, a in enumerate(numbers):
        for b in numbers[:k]:
            apart_x = abs(a["at"][0] - b["at"][0]) - half[a["text"]] - half[b["text"]]
            assert apart_x >= -1e-9 or abs(a["at"][1] - b["at"][1]) >= high - 1e-9
    leaders = [m["points"] for m in marks if m["look"] == "tie"]
    groups = [g for kind in ("one", "two") for g in groups_of([p for p in points if p.plant == kind], paper)]
    assert len(groups) == len(numbers)
    for number, spots in groups:
        ends = [*spots, *(tuple(b) for a, b in leaders if tuple(a) in spots)]
        assert sum(n["text"] == number and tuple(n["at"]) in ends for n in numbers) == 1


def groups_of(points, paper):
    """Return the number and the places on paper of each group of plants of one kind."""
    graph = networkx.Graph()
    places = [tuple(paper.place(p.geometry.x, p.geometry.y)) for p in points]
    graph.add_nodes_from(places)
    near = 1.6 * max(paper.mm(points[0].crown_m), 2.5)
    graph.add_edges_from((a, b) for a in places for b in places if a < b and math.dist(a, b) < near - 1e-6)
    return [(str(points[0].key_number), group) for group in networkx.connected_components(graph)]


# --- for the print shop ----------------------------------------------------------------------------------


def test_the_print_file_holds_all_sheets_in_street_order(folder):
    """Up one side of Heron Lane and down the other; each sheet whole, in one piece."""
    single = {
        page.get_contents().get_data(): yard
        for yard in PLANNED
        for page in pypdf.PdfReader(folder / f"yard-{yard}.pdf").pages
    }
    merged = [p.get_contents().get_data() for p in pypdf.PdfReader(folder / "all-yards.pdf").pages]
    assert sorted(merged) == sorted(single)
    order = [single[content] for content in merged]
    yards = list(dict.fromkeys(order))
    assert order == [y for y in yards for _ in range(order.count(y))]
    north, south = list(PLANNED[:3]), list(PLANNED[3:])  # both from west to east
    assert yards in (north + south[::-1], north[::-1] + south, south + north[::-1], south[::-1] + north)


def test_streets_come_one_after_the_other(plan):
    """Two streets that cross: all yards of one stand together, whatever the order they are given in."""
    yards = plan.yards.iloc[:6].copy()
    spots = [(0, 10), (30, 10), (60, 10), (0, 100), (30, 100), (60, 100)]
    yards["geometry"] = [shapely.box(x, y, x + 20, y + 20) for x, y in spots]
    streets = gpd.GeoDataFrame(
        {"name": ["Elm Row", "Ash Row"]},
        geometry=[shapely.LineString([(-10, 0), (90, 0)]), shapely.LineString([(-10, 90), (90, 90)])],
        crs=yards.crs,
    )
    layer = replace(plan.layers.vectors["streets"], frame=streets)
    layers = replace(plan.layers, vectors={**plan.layers.vectors, "streets": layer})
    given = replace(plan, yards=yards, layers=layers)
    ids = list(yards["yard_id"])
    order = street_order(given, [ids[k] for k in (4, 0, 3, 2, 5, 1)])
    assert set(order[:3]) == set(ids[3:])  # Ash before Elm
    addressed = plan.layers.yards.assign(address=["7 Ash Row", *["no number"] * 6])
    vectors = {**layers.vectors, "yards": replace(layers.vectors["yards"], frame=addressed)}
    corner = street_order(replace(given, layers=replace(layers, vectors=vectors)), ids)
    assert set(corner[:4]) == {ids[0], *ids[3:]}  # the address decides, not what is nearer
    assert order[:3] in (ids[3:], ids[3:][::-1])
    assert order[3:] in (ids[:3], ids[:3][::-1])


def test_sheets_and_page_warn_where_the_tables_are_for_another_region(plan, tmp_path):
    far = Region("far-shore", "the Far Shore", outline=shapely.box(0, 0, 1, 1))
    away = replace(plan, knowledge=replace(plan.knowledge, region=far))
    (path, _) = write_sheets(away, tmp_path, ["QX-101"])
    write_page(away, tmp_path / "page.html")
    warning = "The yards lie outside the Far Shore"
    assert warning in read(path)[0]
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert page.index('<main id="main">') < page.index(warning) < page.index("Whom to ask next?")

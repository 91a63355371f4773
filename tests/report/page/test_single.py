"""A household's page in one file: its own plan in words and drawing, and nobody else's."""

import html
import re
from dataclasses import replace

import pytest

from habitat.report.jobs import Shared
from habitat.report.outputs import OUTPUTS
from habitat.report.page.mine import mine_entry
from habitat.report.page.single import yard_page, yard_page_jobs
from habitat.report.sheets.facts import FactFinder
from tests.report.bought import as_bought


@pytest.fixture(scope="module")
def pages(plan, tmp_path_factory):
    shared = Shared(plan)
    made = [f for job in yard_page_jobs(shared, tmp_path_factory.mktemp("yards")) for f in job(shared)]
    return {file.name: file.read_text("utf-8") for file in made if file.suffix == ".html"}


def test_each_planted_yard_has_a_page_named_by_address_and_id(plan, pages):
    given = plan.layers.yards.set_index("yard_id")["address"]
    expected = {f"{given[y].replace(' ', '-')}-{y}.html" for y in plan.plantings["yard_id"]}
    assert set(pages) == expected


def test_a_page_tells_its_own_plants_and_names_no_other_yard(plan, pages):
    given = plan.layers.yards.set_index("yard_id")["address"]
    for name, page in pages.items():
        yard = name.removesuffix(".html").rsplit("-", 1)[1]
        words = html.unescape(re.sub(r"<[^>]+>", " ", page.split("</style>")[1]))
        mine = plan.plantings[plan.plantings["yard_id"] == yard]
        for (plant, _), rows in mine.groupby(["plant", "form"]):
            assert plant in words
            assert f"{rows['count'].sum()} {as_bought(rows)}" in words
        assert "811" in words
        colors = plan.knowledge.plants["flower_color"].reindex(mine["plant"].unique())
        assert all(color.split(";")[0] in words for color in colors if color != "none")
        assert given[yard] in words
        others = [address for other, address in given.items() if other != yard and address not in given[yard]]
        assert not any(re.search(rf"\b{address}\b", words) for address in others)


def test_the_drawing_has_every_plant_and_no_script_runs(plan, pages):
    page = next(text for name, text in pages.items() if name.endswith("-0007.html"))
    points = plan.plant_points[plan.plant_points["yard_id"] == "0007"]
    assert page.count("<circle") >= len(points)
    assert "<script" not in page
    assert "default-src 'none'" in html.unescape(page)


def test_pages_of_households_are_for_the_group_only():
    (entry,) = [output for output in OUTPUTS if output.name == "yards/"]
    assert entry.audience == ("group",)


@pytest.mark.parametrize("lacking", ["", "trees"])
def test_a_draft_says_so_across_the_drawing_and_in_words(plan, lacking):
    vectors = {name: layer for name, layer in plan.layers.vectors.items() if name != lacking}
    status = plan.yards.assign(status="draft")
    one = replace(plan, layers=replace(plan.layers, vectors=vectors), yards=status)
    facts = FactFinder(one).of(plan.plantings["yard_id"].iloc[0])
    page = yard_page(facts, mine_entry(facts))
    assert (">draft</text>" in page) == ("Draft of the plan" in page) == bool(lacking)
    assert ("a draft until somebody has walked the yard" in page) == bool(lacking)
    assert page.find(">draft</text>") < page.find("<path")

"""Fit as an interval where a need is not known: by hand from ranges, and in the words of a sheet."""

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest

from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.unsure import fit_words, interval, unsure_lines
from habitat.report.sheets.words import unknown_lines, why_lines
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


def facts_with(plan, *, known, source="soil test"):
    """Return a yard of a plan whose needs are known or not; trees are mapped or not."""
    yards = plan.site.yards.assign(sun_h_source="terrain and buildings")
    for need in ("ph", "drainage"):
        yards[f"{need}_source"] = source if need in known else "not assessed"
    rasters = dict.fromkeys(("sun_h", "ph", "drainage"), plan.site.rasters["sun_h"])
    site = replace(plan.site, yards=yards, rasters=rasters)
    vectors = dict(plan.layers.vectors)
    if "trees" not in known:
        vectors.pop("trees", None)
    return FactFinder(replace(plan, site=site, layers=replace(plan.layers, vectors=vectors))).of("0013")


def row(plant, fit):
    return SimpleNamespace(plant=plant, fit=fit)


def with_ranges(facts, **ranges):
    facts.memory["ranges"] = {"X": ranges}
    return facts


INF = math.inf


WIDE_PH = {"ph": (4, 5.0, 7.0, 9.5)}
"""At pH 8, 1.5 of 2.5 are left."""


@pytest.mark.parametrize(
    ("ranges", "known", "fit", "expected"),
    [
        ({"sun_h": (4, 6, INF, INF)}, ("ph", "drainage", "trees"), 0.9, ""),
        ({"sun_h": (4, 6, INF, INF)}, ("ph", "drainage"), 0.9, "good to not at all: sun not sure"),
        ({"sun_h": (0, 4, INF, INF)}, ("ph", "drainage"), 0.9, "good to fair: sun not sure"),  # 2 of 4 h
        ({"sun_h": (0, 2, INF, INF)}, ("ph", "drainage"), 0.9, ""),  # bears the shade too
        (WIDE_PH, ("drainage", "trees"), 0.9, "good to fair: soil pH not sure"),
        (WIDE_PH, ("drainage", "trees"), 0.6, ""),  # no worse than it is held already
        (WIDE_PH | {"drainage": (4, 5, 6, 7)}, (), 0.8,
         "good to not at all: soil pH and drainage not sure"),
        (WIDE_PH, ("drainage", "trees"), math.nan, "good to fair: soil pH not sure"),
    ],
)  # fmt: skip
def test_intervals_by_hand(plan, ranges, known, fit, expected):
    facts = with_ranges(facts_with(plan, known=known), **ranges)
    assert fit_words(facts, row("X", fit)) == expected


def test_the_lower_end_never_lies_above_the_fit(plan):
    facts = facts_with(plan, known=())
    for planting in facts.by_key:
        low, _ = interval(facts, planting)
        assert low <= planting.fit


def test_sheet_and_page_say_which_plants_are_not_sure(plan):
    facts = facts_with(plan, known=())
    (line,) = unsure_lines(facts)
    assert line.startswith("How well they will do is not sure: plant")
    assert line in unknown_lines(facts)
    assert any("not sure)" in why["text"] or "not sure" in why["text"] for why in why_lines(facts))
    assert unsure_lines(facts_with(plan, known=("ph", "drainage", "trees"))) == []

"""The rules in run.json are those that the figures follow: sums redone from them by plain arithmetic."""

import json
import math

import pytest

from habitat.report.lists.shopping import shopping_table
from habitat.report.package.geopackage import write_run_json
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


def rules_of(plan, folder):
    write_run_json(plan, folder / "run.json")
    return json.loads((folder / "run.json").read_text(encoding="utf-8"))["rules"]


@pytest.fixture(scope="module")
def rules(plan, tmp_path_factory):
    return rules_of(plan, tmp_path_factory.mktemp("run"))


def test_every_rule_has_a_value_a_source_and_words(rules):
    assert len(rules) > 40
    for name, rule in rules.items():
        assert set(rule) == {"value", "unit", "source", "words"}, name
        assert rule["value"] not in (None, "", {}, []), name
        assert rule["source"], name
        assert rule["words"], name


def test_the_shopping_list_follows_from_the_rules_of_buying(plan, rules):
    tray, singles = rules["buying.tray"]["value"], rules["buying.singles"]["value"]
    table = shopping_table(plan)
    for row in table[table["list"] == "whole group"].to_dict(orient="records"):
        buy = row["count"] + math.ceil(row["count"] * rules["buying.spares"]["value"][row["form"]] - 1e-9)
        if row["form"] == "plug":
            over = buy % tray
            buy += tray - over if over > singles else 0
        assert row["to_buy"] == buy


def test_a_studys_own_distances_are_told_as_its_own(tmp_path):
    plan = small_plan(tmp_path, site={"setbacks": {"building.tree": 4.0}})
    rules = rules_of(plan, tmp_path)
    assert rules["setback.building"]["value"]["tree"] == 4.0
    assert rules["setback.building"]["source"] == "the study's settings"
    assert rules["setback.paving"]["source"] == "common practice"


def test_the_width_is_that_of_all_yards_and_anchors(plan, rules):
    """By Pythagoras, over the corners of the outlines."""
    shapes = [*plan.layers.yards.geometry, *plan.layers.frame("anchors").geometry]
    xs = [x for s in shapes for x in (s.bounds[0], s.bounds[2])]
    ys = [y for s in shapes for y in (s.bounds[1], s.bounds[3])]
    across = math.hypot(max(xs) - min(xs), max(ys) - min(ys))
    assert rules["corridor.unlimited"]["value"] == pytest.approx(across)

"""My yard: what the page tells a household, from the same facts as its sheet."""

from __future__ import annotations

from typing import Any

from habitat.knowledge.looks import flower_colors
from habitat.report.plan import Plan
from habitat.report.sheets.care import care_lines
from habitat.report.sheets.facts import FactFinder, YardFacts
from habitat.report.sheets.further import further
from habitat.report.sheets.known import sun_words
from habitat.report.sheets.walked import is_draft
from habitat.report.sheets.words import plant_rows
from habitat.report.sheets.year import year_strip
from habitat.report.words.months import month_set
from habitat.report.words.numbers import Units, money
from habitat.report.words.text import plain

CARD = ("key", "common", "scientific", "count", "bought_as", "spacing", "height", "feeds", "beds", "cost")
"""What a card of a plant tells, in this order; its form, months of bloom and colours of flower follow."""


def mine_entries(plan: Plan) -> dict[str, dict[str, Any]]:
    """Return what *My yard* tells of each yard with plants.

    Returns
    -------
    dict
        By yard: rules, mind, defer, why, chain, unknown, lacks, stages (``sheets.further``); cards (CARD,
        form, months of bloom, colours); bloom, year (butterflies by half months) and care of the sheet; cost
        in words; draft (whether somebody has still to walk the yard); bed_lines.
    """
    if not len(plan.plantings):
        return {}
    finder = FactFinder(plan)
    return {y: mine_entry(finder.of(y)) for y in planted_yards(plan)}


def planted_yards(plan: Plan) -> list[str]:
    """Return the yards with plants, in the order of the yards table."""
    planted = set(plan.plantings["yard_id"])
    return [y for y in plan.yards["yard_id"] if y in planted]


def mine_entry(facts: YardFacts) -> dict[str, Any]:
    """Return what *My yard* tells of a yard with plants, as ``mine_entries``."""
    plan = facts.plan
    units = Units(plan.study.report.units)
    strip = year_strip(facts)
    cost = sum(float(row.cost) for row in facts.rows["plantings"])
    return {
        **further(facts),
        "cards": _cards(facts, units),
        "bloom": strip["bloom"],
        "year": [
            [b["name"], b["adult"], b["caterpillar"], b["winter"], b["words"], b["eats"]]
            for b in strip["butterflies"]
        ],
        "care": [[row["months"], row["text"]] for row in care_lines(facts, units)],
        "cost": money(cost, plan.study.planting.currency),
        "draft": is_draft(facts),
        "beds": [
            f"Bed {int(bed.bed_number)}: {units.area(bed.area_m2)}, sun {sun_words(facts, bed.sun_h_mean)}"
            for bed in facts.rows["beds"]
        ],
    }


def _cards(facts: YardFacts, units: Units) -> list[list[Any]]:
    months = {row.plant: sorted(month_set(plain(row.bloom_months))) for row in facts.by_key}
    colors = facts.plan.knowledge.plants["flower_color"]
    return [
        [
            *(row[name] for name in CARD),
            row["form_look"].removeprefix("plant-"),
            months[row["scientific"]],
            list(flower_colors(colors.get(row["scientific"]))),
        ]
        for row in plant_rows(facts, units)
    ]

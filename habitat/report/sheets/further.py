"""What a household's page tells beyond its sheet: why each plant, the chain, looks, all cautions."""

from __future__ import annotations

from typing import Any

from habitat.report.sheets.care import DEFER, left_out_lines, safety, stage_rows
from habitat.report.sheets.data import lacking_lines
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.words import chain_lines, unknown_lines, why_lines
from habitat.report.words.numbers import Units


def further(facts: YardFacts) -> dict[str, Any]:
    """Return what the page tells of a yard with a plan, in words.

    Returns
    -------
    dict
        rules (the five of the sheet), mind (all other cautions, the general ones too), defer, why (keys,
        text), chain, unknown, lacks :
        lists of sentences; stages : name, egg, caterpillar (looks, places, months).
    """
    units = Units(facts.plan.study.report.units)
    mind = safety(facts, units)
    return {
        "rules": mind.rules,
        "mind": [*mind.more, *mind.general],
        "defer": DEFER,
        "why": why_lines(facts),
        "chain": chain_lines(facts, units),
        "unknown": unknown_lines(facts),
        "lacks": [*lacking_lines(facts), *left_out_lines(facts)],
        "stages": stage_rows(facts),
    }

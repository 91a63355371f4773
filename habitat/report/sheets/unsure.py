"""How sure it is that a plant will do well: its fit as an interval where a need is not known."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from habitat.factors import FACTORS
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.known import source_of, sun_is_at_most
from habitat.report.words.text import listed, plain
from habitat.site.yards import NOT_ASSESSED
from habitat.suitability.needs import compile_needs, trapezium

LIKELY = {"sun_h": (2.0, 10.0), "ph": (5.0, 8.0), "drainage": (2.0, 6.0)}
"""What gardens of the regions mostly have, where nobody knows: sun from tree shade to open sky [h], reaction,
rank of drainage (judgement)."""

SHORT = {"sun_h": "sun", "ph": "soil pH", "drainage": "drainage"}
GRADES = ("good", "fair", "poor", "not at all")
"""By class, best first; the limits between them are the study's."""


def fit_words(facts: YardFacts, row: Any) -> str:
    """Return the fit of a planting as an interval with what is not sure; "" where it is sure.

    Of each need that is not assessed, and of sun that is "at most" so much, the worst that is likely
    (``LIKELY``) gives the lower end; a plant that bears that too is sure.
    """
    low, unsure = interval(facts, row)
    if not unsure:
        return ""
    high = _grade(facts, row.fit if _is_number(row.fit) else 1.0)
    return f"{high} to {_grade(facts, low)}: {listed([SHORT[n] for n in unsure])} not sure"


def unsure_lines(facts: YardFacts) -> list[str]:
    """Return one line on the plants whose fit is not sure; none where all are."""
    groups: dict[str, list[int]] = {}
    for row in facts.by_key:
        words = fit_words(facts, row)
        keys = groups.setdefault(words, [])
        if facts.keys[row.plant] not in keys:
            keys.append(facts.keys[row.plant])
    told = [
        f"plant{'s' * (len(k) > 1)} {listed([str(n) for n in k])} {words}"
        for words, k in groups.items()
        if words
    ]
    return [f"How well they will do is not sure: {'; '.join(told)}."] if told else []


def interval(facts: YardFacts, row: Any) -> tuple[float, tuple[str, ...]]:
    """Return the likely lower end of a planting's fit, and the needs that pull it a grade down."""
    ranges = facts.remembered("ranges", lambda: _ranges(facts))
    mine = ranges.get(plain(row.plant), {})
    fit = float(row.fit) if _is_number(row.fit) else 1.0
    worst = {n: _worst(n, mine[n]) for n in LIKELY if n in mine and _is_open(facts, n)}
    unsure = tuple(n for n, score in worst.items() if _grade(facts, score) != _grade(facts, max(fit, score)))
    return min([fit, *(worst[n] for n in unsure)]), unsure


def _ranges(facts: YardFacts) -> dict[str, dict[str, Any]]:
    """Return plant -> need -> the four numbers of its range, where the tables state it."""
    plan = facts.plan
    settings = plan.study.suitability.model_copy(update={"confidence": None})
    needs = compile_needs(plan.knowledge, settings, tuple(LIKELY))
    columns = {n: FACTORS.names.index(n) for n in LIKELY}
    tables = needs.tables
    return {
        plant: {n: tables["ranges"][p, c] for n, c in columns.items() if tables["stated"][p, c]}
        for p, plant in enumerate(needs.plants)
    }


def _worst(need: str, wanted: Any) -> float:
    return float(trapezium(np.array(LIKELY[need]), wanted).min())


def _is_open(facts: YardFacts, need: str) -> bool:
    if need not in facts.plan.site.assessed or source_of(facts, need) == NOT_ASSESSED:
        return True
    return need == "sun_h" and sun_is_at_most(facts)


def _grade(facts: YardFacts, score: float) -> str:
    return GRADES[sum(score < limit for limit in facts.plan.study.suitability.class_limits)]


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and math.isfinite(value)

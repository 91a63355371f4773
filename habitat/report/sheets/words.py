"""What a sheet says: the plant list, why these plants, what is not known, what to measure, the chain."""

from __future__ import annotations

import math
import re
from collections import Counter
from functools import partial
from typing import Any

import pandas as pd

from habitat.factors import FACTORS
from habitat.knowledge.place import outside_region
from habitat.planting.choice.reasons import grade_of
from habitat.planting.drawing.drifts import TRIANGULAR_SHARE
from habitat.report.rows import each_row
from habitat.report.sheets.facts import YardFacts, most_first
from habitat.report.sheets.known import (
    UNSEEN_WORDS,
    holes,
    known_share,
    old_words,
    source_of,
    unseen_of,
    unseen_words,
)
from habitat.report.sheets.unsure import fit_words, unsure_lines
from habitat.report.words.en import voice
from habitat.report.words.forms import after_count
from habitat.report.words.months import month_set, month_words
from habitat.report.words.numbers import Units, money
from habitat.report.words.say import Say
from habitat.report.words.text import counted, listed, plain
from habitat.site.yards import COUNTED, NOT_ASSESSED
from habitat.terms import CANDIDATE

LONGEST = 2000
"""Letters of one reason: more than all kinds of plants can fill, so that none is cut."""

EXACT = ("soil test", COUNTED)
"""Sources that a measurement would hardly better."""

IN_THE_LIST = ("host of", "nectar in")
"""Starts of reasons that the plant list gives too."""

MARKED = ("trees", "paving", "wires", "fences")
"""Obstacles that a household can see and mark."""

NOT_KNOWN, IN_PART, FROM_MAP, WORKED_OUT = 3.0, 2.0, 1.0, 0.5
"""Worth of a measurement by what is known now: judgement."""


def plant_rows(facts: YardFacts, units: Units) -> list[dict[str, Any]]:
    """Return the plant list: a row per plant and form, by number on the sheet."""
    names = facts.plan.knowledge.butterflies["common_name"]
    groups: dict[tuple[str, str, int], list[Any]] = {}
    for row in facts.by_key:
        groups.setdefault((row.plant, row.form, int(row.year)), []).append(row)
    return [
        {
            "key": str(facts.keys[plant]),
            "form_look": f"plant-{_form(facts, plant)}",
            "common": plain(rows[0].common_name, 44),
            "scientific": plain(plant, 44),
            "count": f"{sum(int(r.count) for r in rows)}",
            "bought_as": after_count(sum(int(r.count) for r in rows), form, rows[0].spacing_m)
            + (f" (year {year})" if year > 1 else ""),
            "spacing": units.size(rows[0].spacing_m),
            "height": units.size(rows[0].height_m),
            "bloom": month_words(month_set(plain(rows[0].bloom_months)), short=True) or "–",
            "feeds": _feeds(rows[0], names),
            "host": "host" in str(rows[0].purpose),
            "beds": _beds_of(facts, rows) or "–",
            "cost": money(sum(r.cost for r in rows)),
        }
        for (plant, form, year), rows in groups.items()
    ]


def _beds_of(facts: YardFacts, rows: list[Any]) -> str:
    numbers = facts.bed_numbers
    return ", ".join(str(n) for n in sorted({numbers[r.bed_id] for r in rows if r.bed_id in numbers}))


def _form(facts: YardFacts, plant: str) -> str:
    plants = facts.plan.knowledge.plants
    return str(plants["form"].get(plant, "forb"))


def _feeds(row: Any, names: pd.Series[str]) -> str:
    eaters = [b.strip() for b in plain(row.butterflies, 2000).split(";") if b.strip()]
    parts = [plain(names.get(b, b), 40) for b in eaters]
    feeds = f"caterpillars of {listed(parts)}" if parts else ""
    if "nectar" in str(row.purpose):
        return f"{feeds}; nectar" if feeds else "nectar for adults"
    return feeds or "shelter and winter stems"


def why_lines(facts: YardFacts) -> list[dict[str, str]]:
    """Return why each plant was chosen, by number; plants with one reason share a line."""
    keys, say = facts.keys, voice(facts.plan.study.report)
    reasons: dict[str, list[int]] = {}
    for row in facts.by_key:
        text = _reason(facts, row, say)
        if text and keys[row.plant] not in reasons.setdefault(text, []):
            reasons[text].append(keys[row.plant])
    return [
        {"keys": ", ".join(str(k) for k in numbers), "text": text[0].upper() + text[1:]}
        for text, numbers in reasons.items()
    ]


def _reason(facts: YardFacts, row: Any, say: Say) -> str:
    """Return why a plant stands here, without what the plant list says anyway; else its fit in words."""
    parts = [p.strip() for p in plain(say(row.why), 260).rstrip(".").split(";") if p.strip()]
    parts = [p for p in parts if not p.lower().startswith(IN_THE_LIST)] or parts
    unsure = fit_words(facts, row)
    if parts:
        return "; ".join(parts) + (f" ({unsure})" if unsure else "")
    if unsure or not _is_number(row.fit):
        return unsure
    need = plain(row.limiting_need)
    words = FACTORS[need].heading if need in FACTORS else need
    limits = facts.plan.study.suitability.class_limits
    grade = grade_of(row.fit, limits)
    return f"{grade} here" + (f"; what limits it most: {words}" if need and row.fit < limits[0] else "")


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and math.isfinite(value)


def relaxed_lines(facts: YardFacts) -> list[str]:
    """Return what was wished for and could not be had, in words."""
    say = voice(facts.plan.study.report)
    told = [said for row in facts.rows["yard_results"] for said in say.each(getattr(row, "relaxed", ""))]
    texts = [part for text in told for part in re.split(r";\s+(?=no |only \d|too few )", text)]
    return [plain(text, LONGEST).rstrip(".") for text in texts if plain(text)]


def unknown_lines(facts: YardFacts) -> list[str]:
    """Return what was not assessed and what is unknown here, in words; never silent about either."""
    assessed = [n for n in facts.plan.site.assessed if source_of(facts, n) != NOT_ASSESSED]
    never = [FACTORS[n].heading for n in FACTORS if n not in assessed]
    out = []
    if never:
        out.append(f"Not assessed, for want of data: {listed(never)}. Nothing is claimed about them.")
    if "drainage" not in assessed:
        out.append(
            "Each bed holds kinds that like the same moisture: before you plant, look where water stands "
            "after rain."
        )
    if lacking := unseen_words(facts, "or"):
        out.append(f"No layer tells of {lacking} here, so beds may lie where they are: look before you dig.")
    out += filter(None, [old_words(facts)])
    out += unsure_lines(facts)
    if unknown := holes(facts):
        out.append(f"Unknown here: {listed(unknown)}. Counted as the worst that it could be.")
    coarse = [FACTORS[n].heading for n in measurable() if source_of(facts, n) in ("raster", "soil map")]
    if coarse:
        out.append(f"From maps coarser than your yard: {listed(coarse)}.")
    plan = facts.plan
    out += facts.remembered("outside", lambda: outside_region(plan.knowledge, plan.layers.yards))
    if not facts.plan.site.placeable:
        out.append("No building outlines were given, so beds are not placed: numbers and sizes only.")
    return out


def ground_m2(row: Any) -> float:
    """Return the ground that a planting takes when its plants stand in triangles at their spacing [m2]."""
    return float(row.count * TRIANGULAR_SHARE * row.spacing_m**2)


def unplaced_lines(facts: YardFacts, units: Units) -> list[str]:
    """Return how large the beds without a place are to be, kind by kind; none if all are drawn."""
    if facts.rows["beds"]:
        return []
    out = []
    for bed_id, bed_number in facts.bed_numbers.items():
        rows = [row for row in facts.by_key if row.bed_id == bed_id]
        kinds = listed(
            [f"{row.count} of {facts.keys[row.plant]} on {units.area(ground_m2(row))}" for row in rows]
        )
        whole = sum(ground_m2(row) for row in rows)
        out.append(f"Bed {bed_number}: about {units.area(whole)}, clear of walls, paving and lines; {kinds}.")
    return out


def measure_lines(facts: YardFacts, units: Units) -> list[str]:
    """Return the two measurements that would help this yard most.

    Trees, drive and walks that nobody knows of come first: they move or shade whole beds.
    Needs that nothing is known of come before those known in part, those from a map, and those worked out;
    each counts once more for every plant that it limits. Ties break in the order of ``measurable``.
    """
    bed = "bed 1" if facts.rows["beds"] else "the sunniest spot"
    limits = Counter(row.limiting_need for row in facts.rows["plantings"])
    worth = {n: _uncertain(facts, n) * (1 + limits[n]) for n in measurable()}
    best = sorted((n for n in worth if worth[n] > 0), key=lambda n: -worth[n])
    lines = [units.either(FACTORS[n].measure.format(bed=bed)) for n in best]
    marked = [UNSEEN_WORDS[name] for name in unseen_of(facts) if name in MARKED]
    if marked:
        return [f"Mark {listed(marked)} on the plan, and hand it back", *lines[:1]]
    return lines[:2]


def measurable() -> list[str]:
    """Return the needs that a household can measure itself, the least effort first: it breaks ties."""
    return sorted((n for n in FACTORS if FACTORS[n].measure), key=lambda n: FACTORS[n].measure_rank)


def _uncertain(facts: YardFacts, need: str) -> float:
    source = source_of(facts, need)
    if need not in facts.plan.site.assessed or source in ("unknown", NOT_ASSESSED):
        return NOT_KNOWN
    if known_share(facts, need) < 0.9:
        return IN_PART
    if source in EXACT:
        return 0.0
    return WORKED_OUT if need == "sun_h" else FROM_MAP


def chain_lines(facts: YardFacts, units: Units) -> list[str]:
    """Return how this yard helps the chain; no neighbour is named or located, whatever the audience."""
    rows = most_first(r for r in facts.rows["yard_butterflies"] if r.habitat_m2 > 0)
    joins = "would breed" if facts.yard.get("role") == CANDIDATE else "breeds"
    out = [_butterfly_sentence(facts, row, joins, units) for row in rows]
    more = len(out) - 5
    told = out[:5] + ([f"And {counted(more, 'more butterfly', 'more butterflies')}."] if more > 0 else [])
    told = told or [
        "As planned, none of the butterflies can breed in this yard alone; its nectar still feeds adults."
    ]
    return told + _stops(facts)


def _stops(facts: YardFacts) -> list[str]:
    """Return for which butterflies the yard is a stop on the likeliest way though they do not breed here."""
    chains = facts.remembered("chain", partial(_on_chains, facts.plan.chain))
    out = []
    for on_weakest in (True, False):
        names = [
            f"the {plain(row.common_name or row.butterfly, 40)}"
            for row in facts.rows["yard_butterflies"]
            if not row.habitat_m2 > 0 and chains.get((row.butterfly, facts.yard_id)) is on_weakest
        ]
        most = ", at its weakest step: host plants here would count most" if on_weakest else ""
        if names:
            out.append(
                f"A stop for nectar on the likeliest way of {listed(names)} between the habitats at the two "
                f"ends{most}."
            )
    return out


def _butterfly_sentence(facts: YardFacts, row: Any, breeds: str, units: Units) -> str:
    name = plain(row.common_name or row.butterfly, 40)
    text = f"{name[0].upper() + name[1:]}: {breeds} on {units.area(row.habitat_m2)} here"
    if pd.notna(row.broods) and row.broods > 0:
        text += f", food for {counted(int(row.broods), 'brood')} a year"
    if pd.notna(row.closes_in_year) and row.closes_in_year > 1:
        text += f" from year {int(row.closes_in_year)} on, once the host plants are old enough"
    if plain(row.carried_by).count(";"):
        text += f" (caterpillars eat {plain(row.carried_by, 200)})"
    if plain(row.doubtful_hosts):
        text += f"; she may not lay on {plain(row.doubtful_hosts, 100)}, which is not counted"
    parts = {"held": row.held_m2, "arriving": row.arriving_m2, "passing": row.passing_m2}
    total = sum(v for v in parts.values() if v > 0)
    if total > 0 and row.passing_m2 > 0.25 * total:
        text += "; a stepping stone, by way of which other places reach each other"
    elif total > 0 and row.arriving_m2 > row.held_m2:
        text += "; adds to what neighbouring ground holds"
    chains = facts.remembered("chain", partial(_on_chains, facts.plan.chain))
    weakest = chains.get((row.butterfly, facts.yard_id))
    if weakest is not None:
        text += "; on the likeliest way between the habitats at the two ends"
        if weakest:
            text += ", at its weakest step, so every host plant here counts most"
    return text + "."


def _on_chains(chain: Any) -> dict[tuple[str, str], bool]:
    """Return (butterfly, yard) of every step of the chains, and whether one of its steps is the weakest."""
    found: dict[tuple[str, str], bool] = {}
    for row in each_row(chain) if len(chain) else []:
        for yard in (row.from_yard, row.to_yard):
            key = (row.butterfly, yard)
            found[key] = found.get(key, False) or bool(row.weakest)
    return found


def missing_lines(facts: YardFacts) -> list[str]:
    """Return what each wished-for butterfly still lacks here, but for what ``relaxed_lines`` tells."""
    told, say = " ".join(relaxed_lines(facts)), voice(facts.plan.study.report)
    out: dict[str, list[str]] = {}
    for row in facts.rows["yard_butterflies"]:
        missing = plain(say(row.missing), 140)
        name = plain(row.common_name or row.butterfly, 40)
        if missing and name not in told:
            out.setdefault(missing, []).append(name)
    return [f"{listed(names)}: {missing}" for missing, names in out.items()]


def standing_words(facts: YardFacts) -> str:
    """Return what grows here already, by the name it was given."""
    names = facts.plan.knowledge.plants["common_name"]
    parts: dict[str, float] = {}
    for row in facts.rows["existing_plants"]:
        known = isinstance(row.plant, str) and row.plant in names.index
        name = plain(names[row.plant] if known else row.name_given, 40) or "a plant without a name"
        parts[name] = parts.get(name, 0.0) + float(row.count)
    shown = [f"{name} ({n:.0f})" if n > 1 else name for name, n in list(parts.items())[:12]]
    more = len(parts) - len(shown)
    return listed(shown + ([f"{more} more kinds"] if more > 0 else []))

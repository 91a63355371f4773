"""What is said of a designed bed, on the terminal and on paper alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from habitat.bed.design import BedPlan, sorted_butterflies
from habitat.bed.words import BedSize
from habitat.report.rows import each_row
from habitat.report.sheets.care import DEFER, care_lines, safety
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.words import relaxed_lines
from habitat.report.words.en import voice
from habitat.report.words.forms import after_count
from habitat.report.words.months import month_set, month_words
from habitat.report.words.numbers import Units
from habitat.report.words.text import counted, listed, plain

LAYER_WORDS = {
    "structure": "tall, in the middle or at the back",
    "season": "in drifts between the tall ones and the edge",
    "ground": "low, along the edge and between the others",
}
"""Where the plants of each layer of a bed go."""

MOST_TOLD = 12
"""Butterflies up to so many are told of one by one."""

MOST_EATERS = 5
"""Butterflies named for one plant; the rest are counted."""

QUESTIONS = {
    "place": "place",
    "sun": "sun",
    "soil": "soil",
    "wetness": "wetness",
    "wishes": "butterflies",
}

POT_CARE = (
    "Use a pot or box with holes below, on feet, filled with peat-free potting soil; no garden soil.",
    "Water whenever the top finger's breadth is dry: in summer that can be every day.",
    "In winter stand it against a wall and lay leaves or straw round it: roots freeze sooner in a pot.",
)
POT_LIMITS = (
    "A pot feeds adults. Caterpillars need more leaf than it holds: plant hosts in the ground near by, or in "
    "several pots side by side.",
    "Have a balcony's load and the house rules checked before you fill heavy boxes, and fix them so that "
    "none can fall; wet soil weighs about 1.5 to 2 kg a litre (13 to 17 lb a gallon).",
)
"""Common practice."""


@dataclass(frozen=True, slots=True)
class PlantKind:
    """A row of the plant list in words."""

    number: int
    count: int
    plant: str
    common_name: str
    bought_as: str
    layer: str
    spacing: str
    height: str
    serves: str


def size_words(size: BedSize, units: Units) -> str:
    """Return a size in words.

    Examples
    --------
    >>> size_words(BedSize(length_m=4.0, width_m=2.0), Units())
    'bed of 4.0 m by 2.0 m'
    """
    if size.kind == "pot":
        return f"pot {units.size(size.length_m)} across"
    if size.kind == "box":
        return f"box of {units.size(size.length_m)} by {units.size(size.width_m)}"
    return f"bed of {units.length(size.length_m)} by {units.length(size.width_m)}"


def title_words(bed: BedPlan, units: Units) -> str:
    """Return what the plan is called."""
    words = size_words(bed.facts.size, units)
    count = counted(int(bed.plants["count"].sum()), "plant")
    kinds = counted(len(bed.plants), "kind")
    return f"{words[0].upper() + words[1:]}: {count} of {kinds}"


def taken_words(bed: BedPlan) -> list[str]:
    """Return what each answer was taken for."""
    facts = bed.facts
    lines = [f"{QUESTIONS[key]}: {plain(words, 200)}" for key, words in facts.told.items()]
    who = [name for name, there in (("children", facts.children), ("pets", facts.pets)) if there]
    harm = f"{listed(who)}: nothing that must be kept away from them" if who else "no children or pets said"
    return [*lines, harm, f"look: {facts.style}" if facts.style != "between" else "look: in between"]


def layer_words(layer: str) -> str:
    """Return where plants of a layer go."""
    return LAYER_WORDS[layer]


def plant_kinds(bed: BedPlan, units: Units, most: int = MOST_EATERS) -> list[PlantKind]:
    """Return the plant list in words, by number; so many butterflies are named for one plant."""
    return [
        PlantKind(
            int(row.number),
            int(row.count),
            plain(row.plant, 44),
            plain(row.common_name, 44),
            after_count(int(row.count), row.form, row.spacing_m),
            str(row.layer),
            units.size(row.spacing_m),
            units.size(row.height_m),
            serves_words(bed, row, most),
        )
        for row in each_row(bed.plants)
    ]


def serves_words(bed: BedPlan, row: Any, most: int = MOST_EATERS) -> str:
    """Return what feeds on a plant and when."""
    names = bed.knowledge.butterflies["common_name"]
    eaters = [b.strip() for b in plain(row.butterflies, 4000).split(";") if b.strip()]
    common = [plain(names.get(b, b), 40) for b in eaters]
    more = len(common) - most
    shown = [*common[:most], f"{more} more"] if more > 0 else common
    parts = [f"caterpillars of {listed(shown)}"] if common else []
    if "nectar" in str(row.purpose):
        months = month_words(month_set(plain(row.bloom_months)))
        parts.append(f"nectar {months}" if months == "all year" else f"nectar in {months}")
    text = "; ".join(parts) or "covers the soil, shelters in winter"
    return text[0].upper() + text[1:]


def verdict_words(row: Any) -> str:
    """Return what the bed is to a butterfly: it breeds (broods, from when), visits, or not yet and why."""
    name = plain(row.common_name, 40)
    if row.verdict == "can breed":
        start = "" if pd.isna(row.from_year) or row.from_year <= 1 else f" from year {int(row.from_year)} on"
        return f"{name}: can breed{start}, food for {counted(int(row.broods), 'brood')} a year"
    missing = plain(row.missing, 200)
    lacks = f" ({missing})" if missing else ""
    return f"{name}: {row.verdict}{' for nectar' if row.verdict == 'will visit' else ''}{lacks}"


def butterfly_lines(bed: BedPlan) -> list[str]:
    """Return what the bed is to each butterfly; of very many, those that breed, then who visits by name."""
    rows = list(each_row(sorted_butterflies(bed.butterflies)))
    if len(rows) <= MOST_TOLD:
        return [verdict_words(row) for row in rows]
    lines = [verdict_words(row) for row in rows if row.verdict == "can breed"]
    visits = [plain(row.common_name, 40) for row in rows if row.verdict == "will visit"]
    if visits:
        names = (
            visits if len(visits) <= MOST_TOLD else [*visits[:MOST_TOLD], f"{len(visits) - MOST_TOLD} more"]
        )
        lines.append(
            f"will visit for nectar, and find too little or nothing for caterpillars: {listed(names)}"
        )
    rest = sum(row.verdict not in ("can breed", "will visit") for row in rows)
    return [*lines, f"not yet: {rest} more"] if rest else lines


def lacking_words(bed: BedPlan, facts: YardFacts) -> list[str]:
    """Return what was wished for and could not be had; of very many butterflies only how many lack a host.

    Money was not asked, so that it is never what lacked.
    """
    lines = relaxed_lines(facts)
    if len(bed.butterflies) > MOST_TOLD:
        told = [one for row in facts.rows["yard_results"] for one in row.relaxed]
        hosts = sum(bool(one.subject.butterflies) for one in told)
        say, night = voice(facts.plan.study.report), [o["month"] for o in told if o.kind == "no_night_nectar"]
        some = [o for o in told if not o.subject.butterflies and o.kind != "no_night_nectar"]
        lines = [
            f"{hosts} kinds find too few hosts or no winter place in this bed; those that breed stand above"
        ]
        lines += [f"no nectar at night in {month_words(night)}"] if night else []
        lines += [say(one) for one in some]
    lines = [line.replace("money and room went", "the room went") for line in lines]
    return [f"{line[0].upper() + line[1:]}." for line in dict.fromkeys(lines)]


def not_known_words(bed: BedPlan) -> list[str]:
    """Return what was not assessed; never silent about it."""
    if not bed.not_assessed:
        return []
    return [
        f"Not assessed, for want of data: {listed(bed.not_assessed)}. Nothing is claimed about them; kinds "
        "of wide range were taken where there was a choice."
    ]


def care_words(bed: BedPlan, facts: YardFacts, units: Units) -> list[tuple[str, str]]:
    """Return what to do this year and after: (months in words, what)."""
    rows = [(row["months"], row["text"]) for row in care_lines(facts, units)]
    if not bed.facts.size.contained:
        return rows
    planting, *_, winter, cut = rows
    return [
        (planting[0], POT_CARE[0]),
        ("all summer", POT_CARE[1]),
        (winter[0], f"{winter[1]} {POT_CARE[2]}"),
        cut,
    ]


@dataclass(frozen=True, slots=True)
class Mind:
    """What to mind: the gravest rules, further ones, and what comes before all of them."""

    rules: list[str]
    more: list[str]
    last: str


def mind_words(bed: BedPlan, facts: YardFacts, units: Units) -> Mind:
    """Return the cautions: poisonous plants, buried lines, look-alikes; local codes come before them."""
    found = safety(facts, units, contained=bed.facts.size.contained)
    rules, more = list(found.rules), list(dict.fromkeys([*found.more, *found.general]))
    if bed.facts.size.contained:
        rules = [*POT_LIMITS, *(line for line in rules if "anybody digs" not in line)]
    return Mind(rules, [line for line in more if line not in rules], DEFER)

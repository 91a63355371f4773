"""What a sheet says of doing: eggs and caterpillars to look for, planting and first years, cautions."""

from __future__ import annotations

from functools import partial
from typing import Any

import pandas as pd

from habitat.knowledge.care import Caution, YardFlags, cautions, harmful_plants, lookalikes_of, no_host_reason
from habitat.knowledge.looks import stage_looks
from habitat.report.rows import each_row, row_of
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.year import butterflies_of
from habitat.report.words.months import month_set, month_words
from habitat.report.words.numbers import Units
from habitat.report.words.text import listed, plain

SHOWN_ELSEWHERE = {"chewed_leaves", "deer_cage", "rabbit_cage", "leave_stems", "leave_litter", "call_locator"}
"""Cautions that the sheet gives in another place, in its own words."""

MOST_LOOKALIKES = 8
MOST_STAGES = 6
STAGE_KEYS = {"egg": "egg", "larva": "caterpillar"}

DEFER = (
    "Local codes (weed height, sight lines, distances, fire clearance) and licensed practice decide, "
    "wherever they differ from this sheet."
)


def stage_rows(facts: YardFacts) -> list[dict[str, str]]:
    """Return what eggs and caterpillars of this yard's butterflies look like and where to find them."""
    rows = []
    for name in butterflies_of(facts)[:MOST_STAGES]:
        looks = facts.remembered(("stages", name), partial(_looks, facts, name))
        if len(looks) > 1:
            rows.append(looks)
    return rows


def _looks(facts: YardFacts, name: str) -> dict[str, str]:
    """Return the butterfly's name, and for egg and caterpillar the months, looks and places in words."""
    common = plain(row_of(facts.plan.knowledge.butterflies, name)["common_name"], 40)
    out = {"name": common[0].upper() + common[1:]}
    for row in each_row(stage_looks(facts.plan.knowledge, name)):
        if row.stage in STAGE_KEYS:
            words = (plain(row.looks, 140), plain(row.where_found, 140))
            told = ", ".join(part for part in words if part)
            out[STAGE_KEYS[row.stage]] = f"{told} ({month_words(month_set(row.months))})"
    return out


def care_lines(facts: YardFacts, units: Units) -> list[str]:
    """Return how to plant, cage and water in the first years."""
    rule = facts.plan.knowledge.practice_value
    mulch, rain = units.depth(rule("mulch_depth_max")), units.rain(rule("water_first_season"))
    deer = facts.flag("deer")
    cage = "Deer and rabbits feed here: cage" if deer else "Where deer or rabbits feed, cage"
    stems = f"{units.depth(rule('stem_cut_min'))} to {units.depth(rule('stem_cut_max'))}"
    warm = rule("cleanup_temp")
    degrees = f"{warm * 1.8 + 32:.0f} °F" if units.us else f"{warm:.0f} °C"
    return [
        "Lay the beds out with a tape. Lift or smother the turf; no weedkiller where hosts will stand.",
        "Set plants at their spacing, each kind together, with the root ball level with the soil. Water in.",
        f"{cage} young plants to about {units.size(0.9)} high until they are established.",
        f"In the first season give {rain} a week, rain counted; after that only in drought.",
        f"Keep bark mulch thinner than {mulch} and off the stems; leave some ground bare.",
        "Chewed leaves mean success. Spray nothing: the plants grow back.",
        f"Leave stems and fallen leaves over winter. Cut back to {stems} in spring, when days have stayed "
        f"above {degrees} for a week, and never all in one year.",
    ]


def caution_lines(facts: YardFacts, units: Units) -> list[str]:
    """Return the cautions that apply to these plants and this ground; digging first, local codes last."""
    known = [p for p in facts.plants if p in facts.plan.knowledge.plants.index]
    found = [c for c in _cautions(facts, known) if c.id not in SHOWN_ELSEWHERE]
    general = [f"{plain(c.words, 260).rstrip('.')}." for c in found if not c.plants]
    lines = [
        _digging(facts, units),
        _no_hosts(facts),
        *_harmful_lines(facts),
        *_ground_cautions(facts),
        *_plant_cautions(facts, found),
        *_lookalike_lines(facts, known),
        *general,
    ]
    once = list(dict.fromkeys(units.told(line) for line in lines if line))
    return [*(line for line in once if not _said_more_fully(line, once)), DEFER]


def _said_more_fully(line: str, lines: list[str]) -> bool:
    """Return whether another line begins with all of this one."""
    return any(other != line and other.startswith(line.rstrip(".")) for other in lines)


def _no_hosts(facts: YardFacts) -> str:
    """Return why the yard gets no host plants, "" if it may have them."""
    reason = no_host_reason(facts.plan.knowledge, YardFlags(sprayed=facts.flag("sprayed")))
    return plain(reason, 260).rstrip(".") + "." if reason else ""


def _harmful_lines(facts: YardFacts) -> list[str]:
    """Return what grows here already and passes for a host or does harm: why, what to do, what instead."""
    knowledge = facts.plan.knowledge
    named = [str(r.name_given) for r in facts.rows["existing_plants"] if not isinstance(r.plant, str)]
    lines = []
    for row in each_row(harmful_plants(knowledge, named)):
        text = f"{plain(row.name, 40)} grows here. {plain(row.reason, 220).rstrip('.')}."
        text += f" {plain(row.action, 100).rstrip('.')}."
        if row.plant_instead in knowledge.plants.index:
            text += f" Instead: {plain(knowledge.plants.loc[row.plant_instead, 'common_name'], 40)}."
        lines.append(text[0].upper() + text[1:])
    return lines


def _cautions(facts: YardFacts, plants: list[str]) -> list[Caution]:
    """Return the cautions of all plants, each with the plants that it touches, in the order of the table."""
    flags = {name: facts.flag(name) for name in ("sprayed", "children", "pets", "deer", "septic")}
    asked = tuple(flags.values())
    knowledge = facts.plan.knowledge
    found: dict[str, Caution] = {}
    for plant in plants:
        mine = facts.remembered(
            ("cautions", plant, *asked),
            partial(cautions, knowledge, [plant], YardFlags(**flags)),
        )
        for one in mine:
            before = found[one.id].plants if one.id in found else ()
            found[one.id] = Caution(one.id, one.words, (*before, *one.plants), one.source)
    order = {name: k for k, name in enumerate(knowledge.cautions["id"])}
    return sorted(found.values(), key=lambda c: order.get(c.id, 0))


def _digging(facts: YardFacts, units: Units) -> str:
    rule = facts.plan.knowledge.practice_value
    near = " A buried line is on the map of this yard." if "buried" in facts.around else ""
    return (
        f"Before anybody digs, have buried lines marked by the utility locating service (811 in the United "
        f"States), at least {rule('locate_notice'):.0f} business days ahead; dig by hand within "
        f"{units.size(rule('locate_handdig'))} of a mark.{near} It does not mark the household's own lines."
    )


def _ground_cautions(facts: YardFacts) -> list[str]:
    """Return the cautions that follow from ground near the beds, and wherever plants have to stay low."""
    beds = [bed.geometry for bed in facts.rows["beds"]]
    out = []
    for name in ("height_limits", "closed_ground"):
        texts: dict[str, list[Any]] = {}
        for row in facts.rows[name]:
            if "buried" in str(row.reason):
                continue  # said once for the whole yard
            texts.setdefault(plain(row.caution, 240).rstrip("."), []).append(row.geometry)
        for text, shapes in texts.items():
            near = not beds or name == "height_limits"
            if text and (near or any(s.distance(b) < 3.0 for s in shapes for b in beds)):
                out.append(f"{text}.")
    return out


def _plant_cautions(facts: YardFacts, found: list[Caution]) -> list[str]:
    """Return the cautions about single plants, those about the same plants in one line."""
    keys = facts.keys
    names = facts.plan.knowledge.plants["common_name"]
    by_plants: dict[tuple[str, ...], list[str]] = {}
    for caution in found:
        if caution.plants:
            text = plain(caution.words, 260).rstrip(".")
            by_plants.setdefault(caution.plants, []).append(text[0].lower() + text[1:])
    return [
        f"{listed([f'{keys[p]} {plain(names[p], 40)}' for p in plants])}: {'; '.join(texts)}."
        for plants, texts in by_plants.items()
    ]


def _lookalike_lines(facts: YardFacts, plants: list[str]) -> list[str]:
    """Return what may be sold or taken for these plants, by what to do about it."""
    looks = [
        facts.remembered(("looks", p), partial(lookalikes_of, facts.plan.knowledge, [p])) for p in plants
    ]
    table = pd.concat([t for t in looks if len(t)]) if any(len(t) for t in looks) else None
    if table is None:
        return []
    table = table.drop_duplicates("lookalike").head(MOST_LOOKALIKES)
    keys = facts.keys
    by_action: dict[str, list[str]] = {}
    for row in each_row(table):
        action = plain(row.action, 100).rstrip(".")
        by_action.setdefault(action, []).append(f"{plain(row.common_name, 40)} (not {keys[row.plant]})")
    return [f"Look-alikes: {listed(names)}. {action}." for action, names in by_action.items()]

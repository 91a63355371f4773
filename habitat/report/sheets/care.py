"""What a sheet says of doing: eggs and caterpillars to look for, planting and first years, cautions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import pandas as pd

from habitat.knowledge.care import (
    Caution,
    YardFlags,
    cautions,
    harmful_plants,
    lookalikes_of,
    moth_care,
    no_host_reason,
)
from habitat.knowledge.food import host_worth
from habitat.knowledge.hazards import hazard_action, kept_out_by_hazard, who_lives
from habitat.knowledge.looks import flower_colors, stage_looks
from habitat.knowledge.place import native_here, notice_days
from habitat.report.rows import each_row, row_of
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.year import butterflies_of
from habitat.report.words.months import month_set, month_words
from habitat.report.words.numbers import Units
from habitat.report.words.text import counted, listed, plain
from habitat.terms import AWAY

SHOWN_ELSEWHERE = {"chewed_leaves", "deer_cage", "rabbit_cage", "leave_stems", "leave_litter", "call_locator"}
"""Cautions that the sheet gives in another place, in its own words."""

MOST_LOOKALIKES = 8
STAGE_KEYS = {"egg": "egg", "larva": "caterpillar"}

DEFER = (
    "Local codes (weed height, sight lines, distances, fire clearance) and licensed practice come before "
    "this sheet."
)


def stage_rows(facts: YardFacts) -> list[dict[str, str]]:
    """Return what eggs and caterpillars of this yard's butterflies look like and where to find them."""
    rows = []
    for name in butterflies_of(facts):
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


def care_lines(facts: YardFacts, units: Units) -> list[dict[str, str]]:
    """Return what to do in the first years, by months, in the order of the work.

    Returns
    -------
    list of dict
        months (words) and text.
    """
    rule = facts.plan.knowledge.practice_value
    spring, end, fall, last, cut = (
        int(rule(name))
        for name in (
            "spring_plant_start", "spring_plant_end", "fall_plant_start", "fall_plant_end",
            "cleanup_month_earliest",
        )
    )  # fmt: skip
    deer = "Deer and rabbits feed here: cage" if facts.flag("deer") else "Where deer or rabbits feed, cage"
    stems = f"{units.depth(rule('stem_cut_min'))} to {units.depth(rule('stem_cut_max'))}"
    warm = rule("cleanup_temp")
    degrees = f"{warm * 1.8 + 32:.0f} °F" if units.us else f"{warm:.0f} °C"
    planting = [*range(spring, end + 1), *range(fall, last + 1)]
    rows = [
        (
            planting,
            "Lay out the beds. Lift or smother the turf; use no weedkiller. Set each plant as deep as it "
            f"stood, and water it in. {deer} young plants to about {units.size(0.9)} high.",
        ),
        (
            range(spring, 10),
            f"First year: {units.rain(rule('water_first_season'))} of water a week, rain counted; later "
            f"only in drought. Keep mulch thinner than {units.depth(rule('mulch_depth_max'))} and off stems.",
        ),
        (range(spring, 11), "Chewed leaves mean success: plants grow back."),
        (
            [10, 11, 12, *range(1, cut if cut > 1 else 13)],
            "Leave stems and fallen leaves over winter: broods sleep in them.",
        ),
        (
            [cut],
            f"Cut stems to {stems} once days have stayed above {degrees} for a week, never all in one year.",
        ),
    ]
    return [{"months": month_words(months, short=True), "text": text} for months, text in rows]


GENERAL = {"untreated_stock", "straight_species", "not_dug", "no_release", "local_codes"}
"""Cautions on buying and on neighbours that hold for every yard: the page tells them, sheets where there is
room in the box."""

HELP = ("poison_help", "poison_help_animals")
"""Cautions on whom to call after a mishap."""

CONTAIN = "contain "
"""Start of the ids of cautions on what keeps a plant that spreads in its place."""

MOST_RULES = 5
GRAVEST = (
    "toxic_children", "toxic_pets", "toxic_note", "toxic_pets_note", "carrot_family", "septic_trees",
    "overhead", "milkweed_sap", "skin_note", "thorns_note",
)  # fmt: skip
"""Cautions that stand in the box first."""


@dataclass(frozen=True, slots=True)
class Safety:
    """What to mind: the rules in the box, further ones for these plants and this ground, and the general."""

    rules: list[str]
    more: list[str]
    general: list[str]


NOT_IN_POTS = ("spreads", "local_codes", CONTAIN)
"""How ids of cautions begin that make no sense where a rim holds plants and no neighbour sees a lawn."""


def safety(facts: YardFacts, units: Units, *, contained: bool = False) -> Safety:
    """Return the cautions that apply to these plants and this ground, the gravest five first.

    Digging and not spraying always are among the five; then what grows here and does harm, poison, what lies
    near the beds, and what hurts skin and eyes. ``contained``: all of it stands in pots or boxes.
    """
    known = [p for p in facts.plants if p in facts.plan.knowledge.plants.index]
    found = [c for c in _cautions(facts, known) if c.id not in SHOWN_ELSEWHERE]
    found = [c for c in found if not (contained and c.id.startswith(NOT_IN_POTS))]
    spread, found = _spreading(facts, found)
    grave, others = _plant_cautions(facts, found)
    told = {
        c.id: f"{plain(c.words, 260).rstrip('.')}." for c in found if not c.plants and c.id not in GENERAL
    }
    help_ = [told.pop(name) for name in HELP if name in told]
    own = [
        _no_hosts(facts), *_harmful_lines(facts), *grave[:2], *help_, *_ground_cautions(facts), *grave[2:],
        *told.values(),
        spread, *others,
    ]  # fmt: skip
    once = list(dict.fromkeys(units.told(line) for line in own if line))
    once = [line for line in once if not _said_more_fully(line, once)]
    general = [f"{plain(c.words, 260).rstrip('.')}." for c in found if c.id in GENERAL]
    general += _lookalike_lines(facts, known)
    rules = [_digging(facts, units), *once, *general][: MOST_RULES - 1]
    rest = [line for line in once if line not in rules]
    return Safety(
        [*rules, "Spray nothing, here or next door: it kills caterpillars."],
        rest,
        [line for line in general if line not in rules],
    )


def _spreading(facts: YardFacts, found: list[Caution]) -> tuple[str, list[Caution]]:
    """Return one line on what keeps each spreading plant in its place, "" without, and the other cautions."""
    held = [c for c in found if c.id.startswith(CONTAIN)]
    named = {plant for c in held for plant in c.plants}
    rest = [c for c in found if c.id != "spreads" and c not in held]
    for one in found:
        left = tuple(p for p in one.plants if p not in named)
        if one.id == "spreads" and left:
            rest.append(replace(one, plants=left))
    ways = [
        f"{listed([str(k) for k in sorted(facts.keys[p] for p in c.plants)])} by {c.id.removeprefix(CONTAIN)}"
        for c in held
    ]
    return f"Some plants spread. Keep them in place: {'; '.join(ways)}." if ways else "", rest


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
    answer = facts.poison_answer
    asked = (*flags.values(), answer)
    knowledge = facts.plan.knowledge
    found: dict[str, Caution] = {}
    for plant in plants:
        mine = facts.remembered(
            ("cautions", plant, *asked),
            partial(cautions, knowledge, [plant], YardFlags(**flags, poisonous=answer)),
        )
        for one in mine:
            before = found[one.id].plants if one.id in found else ()
            found[one.id] = Caution(one.id, one.words, (*before, *one.plants), one.source)
    moths = [row.butterfly for row in facts.rows["yard_butterflies"] if row.habitat_m2 > 0]
    found |= {f"moth {one.id}": one for one in moth_care(knowledge, moths)}
    order = {name: k for k, name in enumerate(knowledge.cautions["id"])}
    return sorted(found.values(), key=lambda c: order.get(c.id, 0))


def _digging(facts: YardFacts, units: Units) -> str:
    rule = facts.plan.knowledge.practice_value
    near = " One is on the map of this yard." if "buried" in facts.around else ""
    return (
        f"At least {notice_days(facts.plan.knowledge)} business days before anybody digs, have buried lines "
        "marked by the utility locating service (811 in the United States); dig by hand within "
        f"{units.size(rule('locate_handdig'))} of a mark.{near} Your own lines are not marked."
    )


def _ground_cautions(facts: YardFacts) -> list[str]:
    """Return the cautions that follow from ground near the beds, and wherever plants have to stay low."""
    beds = [bed.geometry for bed in facts.rows["beds"]]
    out = []
    for name in ("height_limits", "closed_ground"):
        texts: dict[str, list[Any]] = {}
        for row in facts.rows[name]:
            if row.what == "buried":
                continue  # said once for the whole yard
            texts.setdefault(plain(row.caution, 240).rstrip("."), []).append(row.geometry)
        for text, shapes in texts.items():
            near = not beds or name == "height_limits"
            if text and (near or any(s.distance(b) < 3.0 for s in shapes for b in beds)):
                out.append(f"{text}.")
    return out


def _plant_cautions(facts: YardFacts, found: list[Caution]) -> tuple[list[str], list[str]]:
    """Return the cautions about single plants, by number, those about the same plants in one line.

    Returns
    -------
    tuple
        The grave ones, gravest first, and the others.
    """
    keys = facts.keys
    by_plants: dict[tuple[str, ...], list[Caution]] = {}
    for caution in found:
        if caution.plants:
            by_plants.setdefault(caution.plants, []).append(caution)
    lines: list[tuple[int, str]] = []
    for plants, mine in by_plants.items():
        texts = [plain(c.words, 260).rstrip(".") for c in mine]
        told = "; ".join(text[0].lower() + text[1:] for text in texts)
        numbers = listed([str(k) for k in sorted(keys[p] for p in plants)])
        rank = min(GRAVEST.index(c.id) if c.id in GRAVEST else len(GRAVEST) for c in mine)
        lines.append((rank, f"{'Plant' if len(plants) == 1 else 'Plants'} {numbers}: {told}."))
    ordered = sorted(lines, key=lambda entry: entry[0])
    return [t for rank, t in ordered if rank < len(GRAVEST)], [
        t for rank, t in ordered if rank == len(GRAVEST)
    ]


def _lookalike_lines(facts: YardFacts, plants: list[str]) -> list[str]:
    """Return what may be sold or taken for these plants, with the number of the plant."""
    looks = [
        facts.remembered(("looks", p), partial(lookalikes_of, facts.plan.knowledge, [p])) for p in plants
    ]
    table = pd.concat([t for t in looks if len(t)]) if any(len(t) for t in looks) else None
    if table is None:
        return []
    table = table.drop_duplicates("lookalike").head(MOST_LOOKALIKES)
    keys = facts.keys
    names = [f"{plain(row.common_name, 40)} (for {keys[row.plant]})" for row in each_row(table)]
    return [f"Buy by the botanical name; these are often taken for yours: {listed(names)}."]


# What was left out for who lives here.

LEFT_OUT_NAMED = 3
"""Most plants that are named as left out; the others are counted."""


def left_out_lines(facts: YardFacts) -> list[str]:
    """Return what was left out for colours and poison that a household does not want; [] where nothing was.

    Hosts of the butterflies that were planned for come first, and with whom they would feed.
    """
    return [*_poison_lines(facts), *_colour_lines(facts)]


def _colour_lines(facts: YardFacts) -> list[str]:
    """Return what became of the colours that a household dislikes; what is planted all the same is host."""
    given = facts.given.get("disliked_colours")
    disliked = frozenset(given.split(";")) if isinstance(given, str) and given else frozenset()
    if not disliked:
        return []
    table = facts.plan.knowledge.plants["flower_color"]
    kept = [p for p in facts.plants if p in table.index and disliked & set(flower_colors(table[p]))]
    but = (
        f" but {listed([str(facts.keys[p]) for p in kept])}, food of caterpillars wished for" if kept else ""
    )
    return [f"You wanted no {listed(sorted(disliked), 'or')} flowers: none are planned{but}."]


def _poison_lines(facts: YardFacts) -> list[str]:
    knowledge = facts.plan.knowledge
    answer = facts.poison_answer
    children, pets = who_lives(facts.flag("children"), facts.flag("pets"), answer)
    out = facts.remembered(("left out", children, pets, answer), partial(_left_out, facts, answer))
    if not out:
        return []
    feeds: dict[str, list[str]] = {plant: [] for plant in out}
    for row in sorted(facts.rows["yard_butterflies"], key=lambda row: str(row.common_name)):
        for plant in feeds.keys() & host_worth(knowledge, row.butterfly).keys():
            feeds[plant].append(plain(row.common_name, 40))
    first = sorted(feeds, key=lambda plant: (not feeds[plant], plant))
    names = knowledge.plants["common_name"]
    shown = [
        names[p] + (f" (host of {listed(feeds[p])})" if feeds[p] else "") for p in first[:LEFT_OUT_NAMED]
    ]
    more = [f"{len(first) - LEFT_OUT_NAMED} more"] if len(first) > LEFT_OUT_NAMED else []
    said = answer or f"{AWAY}, taken where nobody answered"
    return [
        f"Your answer on poisonous plants: {said}. For it {counted(len(first), 'kind')} of plants "
        f"{'is' if len(first) == 1 else 'are'} left out: {listed([*shown, *more])}. Tell the group if you "
        "would rather answer none, away from play or all."
    ]


def _left_out(facts: YardFacts, answer: str) -> list[str]:
    """Return the plants that may be native here and are kept out of a household's yard."""
    knowledge = facts.plan.knowledge
    children, pets = who_lives(facts.flag("children"), facts.flag("pets"), answer)
    kept = {
        plant: kept_out_by_hazard(hazard_action(knowledge, plant, children=children, pets=pets), answer)
        for plant in knowledge.plants.index
    }
    return [plant for plant, why in kept.items() if why and native_here(knowledge, plant) is not False]

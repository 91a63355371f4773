"""Grades of harm and of spread: what is kept out, kept away or told, and what holds a plant in its place.

A hazard's class and the action that it asks for stand in ``hazard_classes.csv``; one from memory counts a
step stricter (the columns ``..._counted``). How a plant spreads and what contains it stand in
``spread_classes.csv``.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from habitat.knowledge.columns import split_list
from habitat.knowledge.tables import Knowledge
from habitat.terms import ANY_POISON, AWAY, NO_POISON

ACTIONS = ("none", "tell", "gloves", "keep_away", "ask", "bar")
"""What a hazard asks for, from least to most."""

MAJOR = "1"
"""The class of major toxicity: barred where children or pets live, unless the household says otherwise."""

UNKNOWN_CLASS = {
    "children": {"toxic_if_eaten": "keep_away", "skin_irritant": "keep_away"},
    "pets": {"toxic_to_pets": "keep_away"},
}
"""What a hazard of a plant without a class asks for: judgement."""

SPREADING = ("runs", "suckers", "seeds_freely")
"""Grades of spread that something must contain."""

BY_HAND = (
    "edge_cut",
    "cut_before_seed",
    "mow_before_seed",
    "cutting_back",
    "pulling",
    "thinning",
    "mulch",
    "pruning",
    "division",
    "root_cutting",
    "root_barrier",
    "roots_unwounded",
    "competition",
)
"""What a household can do anywhere, or what a planted bed does by itself."""

CONTAINED_WORDS = {
    "mown_edge": "a mown edge",
    "mowing": "mowing around it",
    "mow_before_seed": "mowing before seed is ripe",
    "edge_cut": "a cut edge twice a year",
    "paving": "paving around it",
    "root_barrier": "a root barrier",
    "shade": "shade",
    "sun": "full sun",
    "dry_ground": "dry ground",
    "competition": "neighbours that stand close",
    "cut_before_seed": "cutting off seed heads",
    "cutting_back": "cutting back",
    "pulling": "pulling seedlings",
    "thinning": "thinning",
    "mulch": "mulch",
    "pruning": "pruning suckers",
    "division": "dividing every few years",
    "root_cutting": "cutting roots at the edge",
    "support_of_its_own": "a support of its own",
    "away_from_paths": "room away from paths",
    "roots_unwounded": "roots left unwounded",
    "lawn": "lawn around it",
}


def hazard_action(knowledge: Knowledge, plant: str, *, children: bool, pets: bool) -> str:
    """Return what a plant's hazards ask for where children or pets live: the strictest of ACTIONS.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> hazard_action(knowledge, "Asclepias incarnata", children=True, pets=False)
    'ask'
    >>> hazard_action(knowledge, "Asclepias incarnata", children=False, pets=False)
    'none'
    """
    found = ["none"]
    for who, lives in (("children", children), ("pets", pets)):
        if lives:
            found.append(_action(knowledge, plant, who))
    return max(found, key=ACTIONS.index)


def who_lives(children: bool, pets: bool, answer: str) -> tuple[bool, bool]:
    """Return whether to mind children and pets; who asks for care without saying for whom has both.

    ``answer`` is one of ``terms.ANSWERS``, or "" where nobody asked.
    """
    either = answer in (NO_POISON, AWAY) and not (children or pets)
    return children or either, pets or either


def _action(knowledge: Knowledge, plant: str, who: str) -> str:
    if plant in knowledge.hazard_classes.index:
        row: Any = knowledge.hazard_classes.loc[plant]
        if MAJOR in split_list(str(row["class_four"])):
            return "bar"
        action = str(row[f"{who}_counted"])
        return action if action in ACTIONS else "tell"
    known = UNKNOWN_CLASS[who]
    said = [known[h] for h in split_list(str(knowledge.plants.at[plant, "hazards"])) if h in known]
    return said[0] if said else "none"


def kept_out_by_hazard(action: str, answer: str) -> str:
    """Return why a plant is kept out of a household's yard, "" where it may come in.

    Parameters
    ----------
    action
        One of ACTIONS.
    answer
        One of ``terms.ANSWERS``; "" counts as away from play.
    """
    if answer == ANY_POISON or action == "none":
        return ""
    if answer == NO_POISON:
        return "it is poisonous in some way, and the household wants no such plant"
    return "it is among the most poisonous plants, and children or pets live here" if action == "bar" else ""


def stands_away(action: str, answer: str) -> bool:
    """Return whether a plant must stand away from play ground, doors and paths.

    Where all may come in, the most poisonous still stand away (judgement).
    """
    return action == "bar" if answer == ANY_POISON else action in ("keep_away", "ask")


def keep_away_m(knowledge: Knowledge, plant: str) -> float:
    """Return how far [m] a plant that must stand away keeps from play ground, doors and paths, by its class.

    Class 1 keeps twice as far as the others (judgement).

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> keep_away_m(knowledge, "Asclepias incarnata"), keep_away_m(knowledge, "Prunus serotina")
    (1.5, 3.0)
    """
    classes = knowledge.hazard_classes
    major = plant in classes.index and MAJOR in split_list(str(classes.at[plant, "class_four"]))
    return knowledge.practice_value("path_offset_major" if major else "path_offset")


def needs_containing(knowledge: Knowledge, plant: str) -> tuple[str, ...]:
    """Return what contains a plant that spreads, any one of which will do; () if it stays in its place.

    One that may stand at the edge of a lawn is held by the lawn too. A plant without a grade goes by
    ``aggressive_spread``, and an edge that is cut contains it (judgement).
    """
    if plant not in knowledge.spread_classes.index:
        return ("edge_cut",) if bool(knowledge.plants.at[plant, "aggressive_spread"]) else ()
    row: Any = knowledge.spread_classes.loc[plant]
    if str(row["grade"]) not in SPREADING:
        return ()
    things = split_list(str(row["contained_by"])) or ["edge_cut"]
    if str(row["lawn_edge"]) == "True" and "lawn" not in things:
        things.append("lawn")
    return tuple(things)


def held_by(contained_by: Iterable[str], around: Iterable[str]) -> tuple[str, ...]:
    """Return what of the things that contain a plant is there: what lies around, and what hands can do.

    Examples
    --------
    >>> held_by(("paving", "pulling"), ())
    ('pulling',)
    """
    there = {*around, *BY_HAND}
    return tuple(thing for thing in contained_by if thing in there)


def containing_words(things: Iterable[str]) -> str:
    """Return in words what contains a plant.

    Examples
    --------
    >>> containing_words(("mown_edge", "pulling"))
    'a mown edge or pulling seedlings'
    """
    return " or ".join(CONTAINED_WORDS.get(thing, thing.replace("_", " ")) for thing in things)

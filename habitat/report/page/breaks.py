"""Where does it break? What the corridor found out for each butterfly, as sentences for the page."""

from __future__ import annotations

from typing import Any

from habitat.report.page.places import place_words
from habitat.report.words.numbers import share
from habitat.report.words.say import Say
from habitat.report.words.text import counted, listed
from habitat.terms import is_anchor

STATE_WORDS = (
    ("today", "today"),
    ("members", "with the members' plans"),
    ("everyone", "with everybody planted"),
)
CHANCE = 0.5
LOST = 0.2
"""Share of the yards whose loss is told."""


def break_sentences(found: dict[str, Any], say: Say, by_ground: bool = False) -> list[str]:
    """Return what there is to say of one butterfly; ``found`` is its entry in ``Plan.breaks``."""
    told = say.each(found.get("words"))
    told += _groups(found)
    for pair in found.get("pairs") or []:
        told.append(_pair(pair))
    gap = found.get("gap")
    if gap and gap.get("distance_m"):
        one, two = place_words(gap["from"]), place_words(gap["to"])
        far = say.units.distance(float(gap["distance_m"])) + (" by ground" if by_ground else "")
        told.append(f"It is weakest over {far} between {one} and {two}.")
    told += _bridges(found.get("bridges") or [])
    told += _losses(found.get("losses") or {}) + _lasting(found.get("capacity") or {}, say)
    return told + _observed(found.get("observed") or {})


def _groups(found: dict[str, Any]) -> list[str]:
    groups, largest = found.get("groups"), found.get("largest_group_share")
    if not isinstance(groups, dict) or not groups.get("members"):
        return []
    if all(groups.get(state) == 1 for state, _ in STATE_WORDS):
        return ["All its breeding places can reach each other, directly or through others."]
    told = []
    for state, when in STATE_WORDS:
        if groups.get(state) is None:
            continue
        words = _group_words(int(groups[state]))
        if state == "members" and groups[state] > 1 and largest:
            words += f"; the largest holds {largest:.0%} of the habitat".replace("%", " %")
        told.append(f"{when.capitalize()} {words}.")
    return [" ".join(told)]


def _group_words(number: int) -> str:
    if number < 1:
        return "it has no breeding place"
    if number == 1:
        return "its breeding places form one group"
    return f"its breeding places form {number} groups with no way between them"


def _bridges(bridges: list[dict[str, Any]]) -> list[str]:
    """Say which yards join most that would be apart, or farther apart, without them."""
    names = [place_words(b["yard_id"]) for b in bridges if not is_anchor(str(b["yard_id"]))]
    return [f"Most passes through {listed(names[:3])}."] if names else []


def _losses(lost: dict[str, Any]) -> list[str]:
    """Say what stays if one yard in five drops out."""
    if LOST not in (lost.get("share") or []):
        return []
    k = lost["share"].index(LOST)
    random = share(lost["random_mean"][k], lost["random_low"][k], lost["random_high"][k])
    worst = share(*[lost["worst_first"][k]] * 3)
    guess = " (estimated from a sample of places)" if lost.get("sampled") else ""
    return [
        f"If one yard in five drops out by chance, {random} of what is connected stays; if the yards that "
        f"carry most go first, {worst}{guess}."
    ]


def _pair(pair: dict[str, Any]) -> str:
    one, two = place_words(pair.get("from")), place_words(pair.get("to"))
    if not pair.get("passage"):
        return f"Nothing joins {one} and {two} yet."
    steps = counted(int(pair["steps"]), "step")
    text = f"From {one} to {two} it takes {steps}; a chance of {_chance(pair)}."
    ways = pair.get("chains_sharing_no_yard")
    if ways == 1:
        narrow = pair.get("narrow_places") or []
        through = (
            f": everything goes through {listed([place_words(p) for p in narrow[:4]])}" if narrow else ""
        )
        return f"{text} There is one way only{through}."
    return f"{text} {ways} ways share no yard{_together(pair)}." if ways else text


def _together(pair: dict[str, Any]) -> str:
    """Say how much all ways carry together over the likeliest chain alone (effective conductance)."""
    times = pair.get("redundancy")
    return f"; all together carry {_times(times)} times what the likeliest does alone" if times else ""


def _times(value: float) -> str:
    """Return a ratio with two digits that count, one from 10 on: it is known at median reach only."""
    return f"{value:.1f}" if value < 9.95 else f"{float(f'{value:.1g}'):.0f}"


def _lasting(capacity: dict[str, Any], say: Say) -> list[str]:
    """Say what the plans do for its chance to last, and what that figure assumes."""
    times = capacity.get("members_over_today")
    if not capacity.get("members"):
        return []
    told = (
        f"With the members' plans its capacity to last is about {_times(times)} times today's."
        if times
        else "Today there is nothing to reseed from; with the members' plans there is."
    )
    return [f"Could it last? {told} {say(capacity['words'])}"]


def _observed(seen: dict[str, Any]) -> list[str]:
    """Say where it was seen and bred, how well today's prediction ordered the places, and where to look."""
    if not seen:
        return []
    told = _walked(seen)
    bred = seen["breeding_confirmed"]
    told += f" Breeding is confirmed in {listed([place_words(p) for p in bred])}." if bred else ""
    if seen["auc"] is not None:
        told += _ordered(seen)
    look = [place_words(p) for p in seen["look"]]
    if look:
        told += (
            f" Worth a look, since its food plants stand there and nobody has walked there: {listed(look)}."
        )
    return [told]


def _walked(seen: dict[str, Any]) -> str:
    """Say where it was seen, of the places that were walked, and in how many of these it can breed."""
    visited = int(seen["visited"])
    if not visited:
        return f"Seen in {counted(len(seen['seen']), 'place')}; nobody walked in its flight time."
    met = int(seen["seen_on_walks"])
    told = f"Seen in {met} of {counted(visited, 'place')} walked in its flight time"
    if met:
        told += f"; predicted to breed in {int(seen['predicted_of_seen'])} of these {met}"
    return f"{told}."


def _ordered(seen: dict[str, Any]) -> str:
    """Say how well the prediction orders places, and that it may be chance where it may."""
    sure = share(seen["auc"], seen["auc_low"], seen["auc_high"])
    chance = seen["auc_low"] <= CHANCE <= seen["auc_high"]
    return (
        f" Of a place with and a place without it, today's prediction puts the right one first in {sure} of "
        f"cases, over {seen['visited']} places walked; 50 % is chance"
        f"{', so this may be chance alone' if chance else ''}."
    )


def _chance(pair: dict[str, Any]) -> str:
    """Return the chance of getting all the way, with its range over how far butterflies move."""
    value = float(pair["passage"])
    ends = [pair.get(f"passage_{reach}_reach") for reach in ("low", "high")]
    return share(value, *(value if end is None else float(end) for end in ends))

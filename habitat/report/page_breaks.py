"""Where does it break? What the corridor found out for each butterfly, as sentences for the page."""

from __future__ import annotations

from typing import Any

from habitat.report.page_places import place_words
from habitat.report.words import Units, counted, listed

STATE_WORDS = (
    ("today", "today"),
    ("members", "with the members' plans"),
    ("everyone", "with everybody planted"),
)


def break_sentences(found: dict[str, Any], units: Units) -> list[str]:
    """Return what there is to say of one butterfly; ``found`` is its entry in ``Plan.breaks``."""
    told = [units.told(str(found["words"]))] if found.get("words") else []
    told += _groups(found)
    for pair in found.get("pairs") or []:
        told.append(_pair(pair))
    gap = found.get("gap")
    if gap and gap.get("distance_m"):
        one, two = place_words(gap["from"]), place_words(gap["to"])
        told.append(f"It is weakest over {units.distance(float(gap['distance_m']))} between {one} and {two}.")
    return told


def _groups(found: dict[str, Any]) -> list[str]:
    groups, largest = found.get("groups"), found.get("largest_group_share")
    if not isinstance(groups, dict) or not groups.get("members"):
        return []
    if all(groups.get(state) == 1 for state, _ in STATE_WORDS):
        return ["All its breeding places can reach each other, directly or through others."]
    said = ", ".join(f"{groups[s]} {words}" for s, words in STATE_WORDS if groups.get(s) is not None)
    share = (
        f"; the largest then holds {largest:.0%} of the habitat" if groups["members"] > 1 and largest else ""
    )
    return [f"Its breeding places fall into groups that cannot reach each other: {said}{share}."]


def _pair(pair: dict[str, Any]) -> str:
    one, two = place_words(pair.get("from")), place_words(pair.get("to"))
    if not pair.get("passage"):
        return f"Nothing joins {one} and {two} yet."
    hops = counted(int(pair["steps"]), "hop")
    text = f"From {one} to {two} it takes {hops}; a chance of {_chance(pair['passage'])}."
    ways = pair.get("chains_sharing_no_yard")
    if ways == 1:
        narrow = pair.get("narrow_places") or []
        through = (
            f": everything goes through {listed([place_words(p) for p in narrow[:4]])}" if narrow else ""
        )
        return f"{text} There is one way only{through}."
    return f"{text} {ways} ways share no yard." if ways else text


def _chance(passage: float) -> str:
    return f"{passage:.0%}" if passage >= 0.01 else "less than 1%"

"""What a household wants of its garden, from the words that people write in a sign-up sheet."""

from __future__ import annotations

import re
from dataclasses import dataclass

import pandas as pd

from habitat.layers.formats.raw import Draft
from habitat.terms import LOOKS, WISH_FLAGS

COLOURS = {
    **{
        name: name
        for name in ("white", "yellow", "orange", "red", "pink", "purple", "blue", "green", "brown")
    },
    **{"violet": "purple", "lilac": "purple", "magenta": "pink", "gold": "yellow", "golden": "yellow"},
    **{"cream": "white", "scarlet": "red"},
}
"""Colours of flowers as people call them, and the plain one meant."""

_NO = r"(?:no|not any|without|don.?t want(?: any)?|do not want(?: any)?|not)"
_SMALL = r"(?:new |more |tall |big |large |climbing )*"
PHRASES = (
    ("no_trees", rf"{_NO} {_SMALL}trees?"),
    ("no_vines", rf"{_NO} {_SMALL}(?:vines?|climbers?|creepers?)"),
    ("no_shrubs", rf"{_NO} {_SMALL}(?:shrubs?|bushes|bush)"),
    ("keep_lawn", r"(?:keep|leave|save|love|need|want)(?: (?:my|our|the|most of|all))*"
    r" (?:lawn|grass|turf|play lawn)(?: .*)?"),
    ("low_only", rf"(?:only )?(?:low|short)(?: (?:plants|flowers|growing|things|ones))*(?: only| please)?|"
    rf"keep (?:it|them) low|nothing tall|nothing high|{_NO} tall (?:plants|things|ones)"),
    ("easy_care", r"(?:easy|low|little|less|minimal|not much)[ -](?:care|maintenance|work|upkeep|effort)|"
    r"easy|easy to (?:keep|care for|maintain)|low effort|no time|little time|not much time"),
    ("tidy", r"(?:tidy|neat|formal|clean|orderly|well kept|kept)(?: (?:look|garden|beds|edges|and neat))*"),
    ("meadow", r"(?:wild|meadow|natural|prairie|wildflowers?)(?: (?:look|garden|meadow|style|feel|beds))*"),
    ("between", r"(?:in[ -]between|between|in the middle|a bit of both|both|mixed|either)(?: look)?"),
)  # fmt: skip
"""What people write where they are asked what they want, as whole phrases: common practice."""

POLITE = re.compile(
    r"\b(please|thank you|thanks|i'?d like|i would like|we would like|we like|i like|we want|i want"
    r"|prefer(?:ably)?|a|an|i|we|some|somewhere|very|really)\b"
)
"""Words that change nothing."""


@dataclass(frozen=True, slots=True)
class GardenWishes:
    """What somebody's words mean.

    flags : of ``WISH_FLAGS``. look : one of ``LOOKS`` or "". colours : disliked ones. unread : the rest.
    """

    flags: frozenset[str] = frozenset()
    look: str = ""
    colours: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()


def wishes_of(said: str) -> GardenWishes:
    """Return what somebody wants of a garden.

    Examples
    --------
    >>> got = wishes_of("No trees please; keep our lawn, tidy look. No yellow or orange, and a pony")
    >>> sorted(got.flags), got.look, got.colours, got.unread
    (['keep_lawn', 'no_trees'], 'tidy', ('orange', 'yellow'), ('and a pony',))
    >>> sorted(wishes_of("no trees or vines").flags)
    ['no_trees', 'no_vines']
    """
    flags, look, colours, unread = set[str](), "", set[str](), list[str]()
    text = said.casefold().replace("’", "'")
    for part in re.split(r"[,;.!\n/]+", text):
        for phrase in _phrases(" ".join(part.split())):
            bare = _bare(phrase)
            found, shades = _meaning(bare), _disliked(bare)
            if found in LOOKS:
                look = found
            elif found:
                flags.add(found)
            elif shades:
                colours |= shades
            elif bare:
                unread.append(phrase)
    return GardenWishes(frozenset(flags), look, tuple(sorted(colours)), tuple(unread))


def _phrases(part: str) -> list[str]:
    """Return the phrases of a part of a sentence, "no trees or vines" as "no trees" and "no vines"."""
    several = re.fullmatch(rf"({_NO}) (\w+(?: (?:or|and|nor) \w+)+)", part)
    if several:
        return [f"{several[1]} {word}" for word in re.split(r" (?:or|and|nor) ", several[2])]
    pieces = [piece.strip() for piece in re.split(r"\band\b|\bbut\b", part)]
    if all(_meaning(_bare(piece)) or _disliked(_bare(piece)) for piece in pieces):
        return pieces
    return [part] if part else []


def _bare(phrase: str) -> str:
    """Return a phrase without words that change nothing."""
    return " ".join(POLITE.sub(" ", phrase).split()).removeprefix("and ").removeprefix("but ")


def _meaning(bare: str) -> str:
    """Return the key in ``PHRASES`` of a phrase; "" where it means none of them."""
    return next((key for key, words in PHRASES if re.fullmatch(words, bare)), "")


def _disliked(phrase: str) -> set[str]:
    """Return the colours that a phrase such as "no yellow flowers" names; none where it names none."""
    said = re.fullmatch(rf"(?:{_NO}|dislike|hate|avoid) (?:bright )?(\w+)(?: (?:flowers?|blooms?))?", phrase)
    return {COLOURS[said[1]]} if said and said[1] in COLOURS else set()


EXAMPLES = (
    "write no trees, no vines, no shrubs, keep lawn, low only, easy care, tidy, meadow, in between, or no "
    "and a colour"
)


def settle_wishes(draft: Draft) -> None:
    """Bring the column ``garden_wishes`` into columns of their own; what is not read is told.

    Columns of their own that a sheet has already (no_trees, look ...) stay, and count beside the words.
    """
    if "look" in draft.table:
        draft.table["look"] = [_look(draft, int(row), value) for row, value in draft.items("look")]
    if "disliked_colours" in draft.table:
        values = [_colours(draft, int(row), value) for row, value in draft.items("disliked_colours")]
        draft.table["disliked_colours"] = pd.Series(values, index=draft.table.index, dtype=object)
    if "garden_wishes" not in draft.table:
        return
    said = draft.items("garden_wishes")
    read = [(int(row), wishes_of(value) if isinstance(value, str) else GardenWishes()) for row, value in said]
    for row, wish in read:
        for phrase in wish.unread:
            draft.tell(f"garden_wishes: {phrase!r} is not understood and changes nothing; {EXAMPLES}", row, 2)
    wishes, table, index = [wish for _, wish in read], draft.table, draft.table.index
    for flag in WISH_FLAGS:
        said_so = pd.Series([flag in wish.flags for wish in wishes], index=index, dtype=bool)
        table[flag] = said_so | (table[flag].fillna(False).astype(bool) if flag in table else False)
    blank = pd.Series(None, index=index, dtype=object)
    looks = pd.Series([wish.look or None for wish in wishes], index=index, dtype=object)
    own = table.get("look", blank)
    table["look"] = own.where(own.notna(), looks)
    shades = [";".join(wish.colours) for wish in wishes]
    both = zip(table.get("disliked_colours", blank), shades, strict=True)
    table["disliked_colours"] = pd.Series([joined(pair) for pair in both], index=index, dtype=object)


def joined(texts: tuple[object, ...]) -> str | None:
    """Return lists of colours as one, each once; None where there is none.

    Examples
    --------
    >>> joined(("red;pink", None, "red")), joined((None,))
    ('pink;red', None)
    """
    found = {c for text in texts if isinstance(text, str) for c in text.split(";") if c}
    return ";".join(sorted(found)) or None


def _look(draft: Draft, row: int, value: object) -> str | None:
    if not isinstance(value, str) or not value.strip():
        return None
    look = wishes_of(value).look
    if not look:
        draft.tell(f"look {value!r} is not tidy, meadow or in between: taken as not said", row, 2)
    return look or None


def _colours(draft: Draft, row: int, value: object) -> str | None:
    if not isinstance(value, str):
        return None
    words = [w for w in re.split(r"[^a-z]+", value.casefold()) if w not in ("", "and", "or", "no", "flowers")]
    for word in words:
        if word not in COLOURS:
            draft.tell(f"disliked_colours: {word!r} is no colour that we know, and changes nothing", row, 2)
    return ";".join(sorted({COLOURS[w] for w in words if w in COLOURS})) or None

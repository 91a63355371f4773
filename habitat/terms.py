"""Terms that all stages share: months, the roles of yards, what households answer, the ids of anchors."""

from __future__ import annotations

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)

MEMBER, CANDIDATE, OTHER = "member", "candidate", "other"
ROLES = (MEMBER, CANDIDATE, OTHER)
"""Roles of a yard: its household takes part, might be asked, or does neither; the first wins where two
rows of a sign-up sheet differ."""

PLANNED = (MEMBER, CANDIDATE)
"""Roles of yards that get a plan."""

WISH_FLAGS = ("no_trees", "no_vines", "no_shrubs", "keep_lawn", "low_only", "easy_care")
"""What a household may say of its garden with yes or no; blank is no."""

LOOKS = ("tidy", "between", "meadow")
"""How beds are to look."""

DRAFT, ACCEPTED, ORDERED, PLANTED, DECLINED = "draft", "accepted", "ordered", "planted", "declined"
ASKED, SAID_NO, ASK_AGAIN = "asked", "said no", "ask again"
STATUSES = (DRAFT, ACCEPTED, ORDERED, PLANTED, DECLINED, ASKED, SAID_NO, ASK_AGAIN)
"""What became of a yard's plan, or of asking its household."""

KEPT, REFUSED = (ACCEPTED, ORDERED, PLANTED), (DECLINED, SAID_NO)
"""Statuses of plans that stay as they are, and of yards that are left out; all others are drafts."""

ANSWERS = NO_POISON, AWAY, ANY_POISON = ("none", "away from play", "all")
"""What a household answers when asked once which poisonous plants may stand in its yard, strictest first."""

_SAID = {
    "away": AWAY,
    "none": NO_POISON,
    "no": NO_POISON,
    "all": ANY_POISON,
    "any": ANY_POISON,
    "yes": ANY_POISON,
}
"""First words of answers, as people write them."""


def household_answer(said: object) -> str:
    """Return one of ANSWERS for what a household wrote, "" if it says nothing that is understood.

    Examples
    --------
    >>> household_answer("None, please"), household_answer("away from play"), household_answer("ALL")
    ('none', 'away from play', 'all')
    >>> household_answer(None), household_answer("dunno")
    ('', '')
    """
    text = str(said or "").strip().lower()
    found = [
        answer for word, answer in _SAID.items() if text == word or text.startswith((f"{word} ", f"{word},"))
    ]
    return found[0] if found else ""


ANCHOR = "anchor"
"""The role of existing habitat beside yards in tables of the corridor."""

_PREFIX = f"{ANCHOR}: "


def anchor_id(name: str) -> str:
    """Return what stands for an anchor where tables have a ``yard_id``.

    Examples
    --------
    >>> anchor_id("Mill Meadow")
    'anchor: Mill Meadow'
    """
    return f"{_PREFIX}{name}"


def is_anchor(place: str) -> bool:
    """Return whether an id stands for an anchor.

    Examples
    --------
    >>> is_anchor("anchor: Mill Meadow"), is_anchor("12-007")
    (True, False)
    """
    return place.startswith(_PREFIX)


def anchor_name(place: str) -> str:
    """Return an anchor's name as said aloud; other ids come back as they are.

    Examples
    --------
    >>> anchor_name("anchor: Mill Meadow"), anchor_name("12-007")
    ('Mill Meadow', '12-007')
    """
    return place.removeprefix(_PREFIX)

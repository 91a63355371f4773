"""Whether a household takes part, from the words that people write in a sign-up sheet."""

from __future__ import annotations

import re
from collections import defaultdict

import pandas as pd

from habitat.layers.formats.raw import Draft
from habitat.terms import CANDIDATE, MEMBER, OTHER, ROLES

ROLE_WORDS = {
    **dict.fromkeys(
        (
            "yes",
            "y",
            "yep",
            "yeah",
            "true",
            "1",
            "x",
            "✓",
            "ok",
            "okay",
            "sure",
            "definitely",
            "absolutely",
            "gladly",
        ),
        MEMBER,
    ),
    **dict.fromkeys(("in", "count in", "taking part", "takes part", "joined", "signed up"), MEMBER),
    **dict.fromkeys(
        ("maybe", "perhaps", "not sure", "unsure", "possibly", "ask", "later", "maybe later", "not yet"),
        CANDIDATE,
    ),
    **dict.fromkeys(("interested", "next year", "maybe next year", "maybe next time"), CANDIDATE),
    **dict.fromkeys(("no", "n", "nope", "false", "0", "not"), OTHER),
}
"""What sign-up sheets say where they ask whether a household takes part: common practice."""
POLITE = re.compile(r"\b(please|thank you|thanks|very much|of course|but|me|i am|i'm)\b")
"""Words that say neither yes nor no."""


def role_of(said: str) -> str | None:
    """Return the role that somebody's words mean, "" where there are none, None where they mean none of ours.

    Examples
    --------
    >>> [role_of(text) for text in ("Yes please!", "No, thanks", "count me in", "Members", "", "treasurer")]
    ['member', 'other', 'member', 'member', '', None]
    """
    text = " ".join(re.sub(r"[.!,;:]+", " ", said.casefold().replace("’", "'")).split())
    bare = " ".join(POLITE.sub("", text).split())
    if not text:
        return ""
    found = ROLE_WORDS.get(text) or ROLE_WORDS.get(bare) or text.rstrip("s")
    return found if found in ROLES else None


def settle_roles(draft: Draft) -> None:
    """Bring the words of the role column to member, candidate or other; blank is not answered: candidate."""
    if "role" not in draft.table:
        if draft.name == "participants":
            draft.table["role"] = MEMBER
            if len(draft.table):
                draft.tell("no column role: everybody on the sheet counts as a member", harm=2)
        return
    out: list[str | None] = []
    read: dict[str, list[str]] = defaultdict(list)
    for row, value in draft.items("role"):
        role = role_of(value) if isinstance(value, str) else ""
        if role:
            out.append(role)
            if value.strip().casefold().rstrip("s") not in ROLES:
                read[role].append(value)
        elif role is None:
            out.append(OTHER)
            draft.tell(
                f"role {value!r} is not member, candidate or other (yes, maybe or no): taken as other, so no "
                "plan is made; write one of them",
                int(row),
                2,
            )
        elif draft.name == "participants":
            out.append(CANDIDATE)
            draft.tell(
                "role is blank: not answered, so taken as candidate; write member, candidate or other",
                int(row),
                2,
            )
        else:
            out.append(None)
    draft.table["role"] = pd.Series(out, index=draft.table.index, dtype=object)
    for role, said_so in read.items():
        draft.tell(f"role: {', '.join(sorted(set(said_so)))} is read as {role} ({len(said_so)} row(s))")

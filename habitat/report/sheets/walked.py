"""What a household told on a walk of its yard, and whether its plan is a draft until somebody walks it."""

from __future__ import annotations

import pandas as pd

from habitat.layers.cells.walk_words import NONE, PLACES, SUN, THERE
from habitat.report.plan import Plan
from habitat.report.sheets.facts import YardFacts
from habitat.report.sheets.known import unseen_of
from habitat.report.words.text import listed

DRAFT = "draft"

LIKELY_THERE = frozenset(("trees", "paving"))
"""What nearly every yard has: where nobody knows of it, it is likelier unseen than missing (judgement)."""

OF = {
    "trees": "trees", "drive": "a drive", "walks": "walks", "wires": "overhead wires", "fences": "fences",
    "water": "water", "septic": "a septic field", "wet": "wet ground", "play": "play ground",
}  # fmt: skip
"""Columns of the form, in words."""

WHERE = {
    "front": "in front", "back": "at the back", "left": "on the left", "right": "on the right",
    THERE: "somewhere",
}  # fmt: skip


def is_draft(facts: YardFacts) -> bool:
    """Return whether a plan is a draft: nobody walked the yard, and trees or a drive may be unseen."""
    if not facts.plan.study.report.mark_drafts or str(facts.yard.get("status") or DRAFT) != DRAFT:
        return False
    walked = facts.remembered("walked", lambda: walked_yards(facts.plan))
    return facts.yard_id not in walked and bool(LIKELY_THERE & set(unseen_of(facts)))


def walked_yards(plan: Plan) -> frozenset[str]:
    """Return the yards that somebody walked with the form, drew, or measured by tape."""
    drawn = plan.layers.frame("more_yards")
    names = [] if drawn is None else [y for ids in drawn["yard_id"].astype(str) for y in ids.split("; ")]
    own = plan.layers.vectors.get("yards")
    by_tape = own is not None and own.source_crs == "measured by tape"
    return frozenset((*plan.site.walked, *names, *(plan.yards["yard_id"] if by_tape else ())))


def told_words(plan: Plan) -> dict[str, dict[str, str]]:
    """Return yard -> what its household told by column of the form; none for a public audience."""
    table = plan.layers.frame("walk")
    if table is None or plan.study.report.audience == "public":
        return {}
    out: dict[str, dict[str, str]] = {}
    for row in pd.DataFrame(table).to_dict("records"):
        words = {c: v for c in (*PLACES, *SUN) if isinstance(v := row.get(c), str) and v}
        out.setdefault(str(row["yard_id"]), {}).update(words)
    return out


def told_lines(facts: YardFacts) -> list[str]:
    """Return what a household told of its yard; nothing where it told nothing."""
    told: dict[str, str] = facts.remembered("told", lambda: told_words(facts.plan)).get(facts.yard_id, {})
    here = [
        f"{OF[c]} {listed([WHERE[w] for w in told[c].split(';')])}"
        for c in PLACES
        if told.get(c, NONE) != NONE
    ]
    none = [OF[c].removeprefix("a ") for c in PLACES if told.get(c) == NONE]
    sun = [f"{told[c]} {'sun ' if told[c] != 'shade' else ''}{WHERE[c[4:]]}" for c in SUN if c in told]
    out = [f"{listed(parts)[0].upper()}{listed(parts)[1:]}." for parts in (here, sun) if parts]
    out += [f"No {listed(none, 'or')}."] if none else []
    if told.get("wet", NONE) != NONE:
        site = facts.plan.site
        if "drainage" in site.assessed and "wet" in site.walked.get(facts.yard_id, ()):
            out.append("There drainage is taken a class wetter than maps or tests tell.")
        out.append("Where it stays wet, choose the kinds of the list that bear it, or shift the bed.")
    return out

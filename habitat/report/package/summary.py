"""A run's figures in words, for people who want more than what is to be done next."""

from __future__ import annotations

import itertools
from pathlib import Path

from habitat.knowledge.life_cycle import NOT_YET, VISITS
from habitat.knowledge.place import outside_region
from habitat.report.plan import Plan
from habitat.report.sheets.facts import addresses
from habitat.report.words.en import voice
from habitat.report.words.numbers import money
from habitat.report.words.text import plain
from habitat.terms import ANCHOR

NAMED = 8
"""So many plant names are written out."""


def write_summary(plan: Plan, path: Path) -> None:
    """Write ``summary.txt``, a paragraph for each line of ``summary_lines`` and each gap."""
    lines = [*summary_lines(plan), *gaps(plan)]
    path.write_text("\n\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def _life_cycles(plan: Plan) -> list[str]:
    """Return how many life cycles close in yards, today and by plan year; equal years are told once."""
    found = list(plan.headline.get("life_cycles_closed", {}).items())
    if not found:
        return []
    changed = [found[0], *(b for a, b in itertools.pairwise(found) if b[1] != a[1])]
    told = ", ".join(f"{count:,} {when.replace('year_', 'from year ')}" for when, count in changed)
    verdicts = plan.yard_butterflies.loc[plan.yard_butterflies["role"] != ANCHOR, "verdict"].value_counts()
    visits = int(verdicts.get(VISITS, 0))
    return [
        f"Can breed in a yard, each yard and butterfly counted: {told}. Will only visit: {visits:,}; "
        f"not yet: {int(verdicts.get(NOT_YET, 0)):,}."
    ]


def summary_lines(plan: Plan) -> list[str]:
    """Return what was read, planned and found, and whom to ask next."""
    counts, currency = plan.headline["counts"], plan.study.planting.currency
    say = voice(plan.study.report)
    sentences = [say(sentence) for sentence in plan.sentences[:3]]
    paid = money(plan.headline["cost_of_members"], currency)
    lines = [
        f"{counts['yards']} yards read, {counts['yards_planned']} planned: {counts['plants']} plants of "
        f"{counts['plant_kinds']} kinds in {counts['beds']} beds, cost {money(plan.headline['cost'])}; for "
        f"the {counts['members']} who take part {counts['plants_of_members']} plants, cost {paid}; to buy, "
        f"with spares and full trays: {money(plan.headline['cost_to_buy'])}.",
        *_life_cycles(plan),
        *(f"Corridor: {s}" for s in sentences[:1]),
        *sentences[1:3],
    ]
    if asked := ask_next(plan):
        lines.append(f"Ask next: {asked}")
    return lines


def ask_next(plan: Plan) -> str:
    """Return the yard to ask first and why, "" where there is nobody to ask."""
    if not len(plan.invitations):
        return ""
    first = plan.invitations.iloc[0]
    own = addresses(plan).get(str(first["yard_id"]), "")
    lived = f" ({plain(own)})" if own else ""
    why = voice(plan.study.report)(first["reason"]).rstrip(".")
    return f"yard {first['yard_id']}{lived}. {why}."


def gaps(plan: Plan) -> list[str]:
    """Return what a plan leaves open, so that no gap goes unseen: never left out of a short summary."""
    lines = [*outside_region(plan.knowledge, plan.layers.yards), *left_open(plan)]
    if len(plan.set_aside):
        lines.append(
            f"{len(plan.set_aside)} row(s) could not be used: see the layer set_aside, or 'habitat check'."
        )
    return lines


def left_open(plan: Plan) -> list[str]:
    """Say which yards got nothing and which plants could not be counted, so that no gap goes unseen."""
    lines = []
    planned = plan.yard_results["yard_id"].nunique()  # of those that this audience sees
    empty = planned - plan.plantings["yard_id"].nunique()
    if empty > 0:
        lines.append(
            f"{empty} of {planned} yards planned get no plant: their sheets say why, and 'habitat why' more."
        )
    standing = plan.existing_plants
    names = standing.loc[standing["plant"].isna() & (standing["name_given"] != ""), "name_given"]
    if len(names):
        several = names.drop_duplicates()
        more = f" and {len(several) - NAMED} more" if len(several) > NAMED else ""
        lines.append(
            f"{len(names)} of {len(standing)} plants that stand already count for no butterfly, their names "
            f"being unknown or unclear: {', '.join(several[:NAMED])}{more}; see 'habitat check'."
        )
    return lines

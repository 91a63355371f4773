"""What keeps a plant out of a yard whatever sun and soil say: the rules of the plan, and what to mind."""

from __future__ import annotations

import math

import pandas as pd

from habitat.knowledge import Knowledge, resolve_plants
from habitat.knowledge.care import YardFlags, cautions, no_host_reason
from habitat.knowledge.place import not_native_words
from habitat.pipeline.native import not_native
from habitat.pipeline.planting import facts_of
from habitat.planting.choice.problem import YardWishes, bar_plants
from habitat.planting.household import read_household
from habitat.report.words.en import voice
from habitat.study.model import Study
from habitat.suitability import Needs
from habitat.terms import household_answer


def kept_out(study: Study, knowledge: Knowledge, needs: Needs, yard: pd.Series) -> dict[str, str]:
    """Return plant -> why the plan keeps it out of a whole yard, "" where it may come in.

    Parameters
    ----------
    needs
        Of all plants, as ``compile_needs`` returns it.
    yard
        A row of ``Layers.yards``.
    """
    top = yard.get("max_height_m")
    wishes = YardWishes(
        yard_id=str(yard["yard_id"]),
        budget=0.0,
        max_height_m=math.inf if top is None or pd.isna(top) else float(top),
        children=_flag(yard, "children"),
        pets=_flag(yard, "pets"),
        poisonous=household_answer(yard.get("poisonous")),
        sprayed=_flag(yard, "sprayed"),
        household=read_household(yard, study.planting),
    )
    barred = bar_plants(facts_of(study, knowledge, needs), wishes, study.planting)
    say = voice(study.report)
    reasons = {plant: say(reason) for plant, reason in zip(needs.plants, barred, strict=True)}
    wanted = _accepted(study.planting.plants, knowledge)
    for plant in set(reasons) - wanted if wanted else ():
        reasons[plant] = "the study does not name it under planting.plants"
    for plant in not_native(study, knowledge) & set(reasons):
        reasons[plant] = f"{not_native_words(knowledge)} (planting.allow_not_native lets it in)"
    return reasons | dict.fromkeys(
        _accepted(study.planting.exclude, knowledge), "the study leaves it out (planting.exclude)"
    )


def kept_out_words(plant: str, reason: str, knowledge: Knowledge, yard: pd.Series) -> str:
    """Return in a sentence that the plan keeps a plant out of a yard, and what a sprayed yard is told."""
    if not reason:
        return ""
    host = plant in set(knowledge.host_plants["plant"])
    told = no_host_reason(knowledge, YardFlags(sprayed=_flag(yard, "sprayed"))) if host else ""
    return f"The plan keeps it out of this yard: {reason}." + (f" {told.rstrip('.')}." if told else "")


def to_mind(plant: str, knowledge: Knowledge, yard: pd.Series) -> list[str]:
    """Return the cautions that are about this plant itself, for this household."""
    flags = {name: _flag(yard, name) for name in ("sprayed", "children", "pets", "deer", "septic")}
    said = household_answer(yard.get("poisonous"))
    found = cautions(knowledge, [plant], YardFlags(**flags, poisonous=said))
    return [f"Mind: {c.words[0].lower()}{c.words[1:]}." for c in found if c.plants]


def _flag(yard: pd.Series, name: str) -> bool:
    value = yard.get(name)
    return value is not None and not pd.isna(value) and bool(value)


def _accepted(names: list[str], knowledge: Knowledge) -> set[str]:
    return {m.accepted for m in resolve_plants(names, knowledge) if m.accepted is not None}

"""English: a module for the remarks of each stage, a function for each kind, named as the kind is."""

from __future__ import annotations

from collections.abc import Callable
from types import FunctionType

from habitat.report.words.en import choice, corridor, planting, revision, site
from habitat.report.words.numbers import METRIC, Units
from habitat.report.words.say import Say
from habitat.settings.report import ReportSettings

STAGES = (choice, site, planting, corridor, revision)

WORDS: dict[str, Callable[..., str]] = {
    name: told
    for stage in STAGES
    for name, told in vars(stage).items()
    if isinstance(told, FunctionType) and told.__module__ == stage.__name__ and not name.startswith("_")
}
"""The words for each kind of remark."""


def english(units: Units = METRIC, *, audience: str = "group", length: str = "full") -> Say:
    """Return the voice that says remarks in English; parameters as ``Say`` takes them."""
    return Say(WORDS, units, audience, length)


def voice(settings: ReportSettings) -> Say:
    """Return the voice in which results are written: units and audience as the study sets them."""
    return english(Units(settings.units), audience=settings.audience)

"""Plans butterfly host plants, nectar and corridors over a neighbourhood of real yards.

A study, from its files to its plan: ``read_study``, ``check_study``, ``read_layers``, ``survey``, ``run``,
``write_plan``. Each step alone, from arrays and polygons: ``habitat.sun``, ``habitat.soil``,
``habitat.ground``, ``habitat.suitability``, ``habitat.planting``, ``habitat.connectivity``,
``habitat.knowledge``. All of it is loaded when it is first asked for.

>>> import habitat
>>> needs = habitat.suitability.build_needs({"bog plant": {"ph": (3.5, 4.5, 5.5, 6.5)}})
>>> place = habitat.suitability.explain(needs, "bog plant", {"ph": 6.0})
>>> round(place.low, 2), place.class_name
(0.5, 'S2')
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from habitat import connectivity, ground, knowledge, planting, settings, soil, suitability, sun
    from habitat.commands.check.account import check_study
    from habitat.errors import HabitatError
    from habitat.grid import Grid
    from habitat.layers.rasters.window import read_raster
    from habitat.pipeline.reading import read_layers
    from habitat.pipeline.run import run
    from habitat.pipeline.survey import survey
    from habitat.report.plan import Plan
    from habitat.report.write import write_plan
    from habitat.study.model import Study
    from habitat.study.reading import read_study

_HOMES = {
    "Grid": "habitat.grid",
    "HabitatError": "habitat.errors",
    "Plan": "habitat.report.plan",
    "Study": "habitat.study.model",
    "check_study": "habitat.commands.check.account",
    "read_layers": "habitat.pipeline.reading",
    "read_raster": "habitat.layers.rasters.window",
    "read_study": "habitat.study.reading",
    "run": "habitat.pipeline.run",
    "survey": "habitat.pipeline.survey",
    "write_plan": "habitat.report.write",
}
"""Public name -> the module that it is made in."""

_PACKAGES = ("connectivity", "ground", "knowledge", "planting", "settings", "soil", "suitability", "sun")
"""Packages whose own public names are in their ``__all__``."""

__all__ = [
    "Grid",
    "HabitatError",
    "Plan",
    "Study",
    "check_study",
    "connectivity",
    "ground",
    "knowledge",
    "planting",
    "read_layers",
    "read_raster",
    "read_study",
    "run",
    "settings",
    "soil",
    "suitability",
    "sun",
    "survey",
    "write_plan",
]


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for, so that looking up help imports nothing of it."""
    if name in _PACKAGES:
        return importlib.import_module(f"habitat.{name}")
    if name in _HOMES:
        value = getattr(importlib.import_module(_HOMES[name]), name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'habitat' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})

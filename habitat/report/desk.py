"""Where a process sits to make files of a plan that need no others: yard sheets, maps of shapes and lines."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from habitat.report.plan import Plan
from habitat.report.sheets.facts import FactFinder
from habitat.report.typeset import Typesetter


class Desk:
    """A plan with what is made of it once and used for every file; only the plan goes to other processes.

    Parameters
    ----------
    plan
        Already reduced for its audience.
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan

    def __reduce__(self) -> tuple[type[Desk], tuple[Plan]]:
        return Desk, (self.plan,)

    @functools.cached_property
    def finder(self) -> FactFinder:
        """The plan's tables grouped by yard, its layers indexed."""
        return FactFinder(self.plan)

    @functools.cached_property
    def setter(self) -> Typesetter:
        """The typesetter of yard sheets."""
        return Typesetter("sheet.typ", self.plan.study.study.date)


Job = Callable[[Desk], list[Path]]
"""Makes files, and returns them in order; can be sent to another process."""


def do(job: Job, desk: Desk) -> list[Path]:
    """Do a job at a desk; a function that a crew can be given."""
    return job(desk)


def without_cells(plan: Plan) -> Plan:
    """Return a plan whose rasters have names and no cells: all that sheets and maps of lines ask for."""
    none = np.empty((0, 0), np.float32)
    rasters = dict.fromkeys(plan.site.rasters, none)
    site = replace(plan.site, rasters=rasters, sun_by_month={}, relief=None, sun_terms=None)
    return replace(plan, site=site)

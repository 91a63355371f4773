"""Jobs that make files of a plan, and what all jobs of a process share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from habitat.report.plan import Plan

T = TypeVar("T")


class Shared:
    """A plan with what is made of it once and used for every file; only the plan goes to other processes.

    Parameters
    ----------
    plan
        Already reduced for its audience.
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._made: dict[Callable[[Plan], Any], Any] = {}

    def __reduce__(self) -> tuple[type[Shared], tuple[Plan]]:
        return Shared, (self.plan,)

    def once(self, make: Callable[[Plan], T]) -> T:
        """Return what a function makes of the plan; it is called at the first asking of each process."""
        if make not in self._made:
            self._made[make] = make(self.plan)
        found: T = self._made[make]
        return found


Job = Callable[[Shared], list[Path]]
"""Makes files, and returns them in order; can be sent to another process."""


def about(job: Job) -> str:
    """Return the yard that a job is about, "" if it is about none."""
    return str(getattr(job, "keywords", {}).get("yard_id", ""))


def do(job: Job, shared: Shared) -> list[Path]:
    """Do a job; a function that an executor can be given."""
    return job(shared)


def without_cells(plan: Plan) -> Plan:
    """Return a plan whose rasters have names and no cells: all that sheets and maps of lines ask for."""
    none = np.empty((0, 0), np.float32)
    rasters = dict.fromkeys(plan.site.rasters, none)
    site = replace(plan.site, rasters=rasters, sun_by_month={}, relief=None, sun_terms=None, sun_known=None)
    return replace(plan, site=site)

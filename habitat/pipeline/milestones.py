"""How far the corridor has come, run by run: what each run of a chain adds to those before."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from habitat.knowledge import resolve_butterflies
from habitat.pipeline.planting import Groundwork
from habitat.planting.settled import living_of
from habitat.planting.types import Milestone
from habitat.terms import ASK_AGAIN, ASKED, MEMBER, PLANTED, REFUSED


def milestones(
    request: Groundwork, decisions: pd.DataFrame, headline: dict[str, Any]
) -> tuple[Milestone, ...]:
    """Return the milestones of all runs of a chain, this one last.

    A run that only draws anew takes the place of the one that it draws.

    Parameters
    ----------
    request
        The stages before planting.
    decisions
        The table of decisions: yard_id, status.
    headline
        Figures of this run; those ``together`` count.
    """
    earlier = request.earlier
    had = () if earlier is None else earlier.carried.history
    if earlier is None:
        after = ""
    elif request.redraw:
        after, had = (had[-1].after if had else ""), had[:-1]
    else:
        after = earlier.sha256
    return (*had, _own(request, decisions, headline, after))


def _own(request: Groundwork, decisions: pd.DataFrame, headline: dict[str, Any], after: str) -> Milestone:
    date, roles = request.study.study.date, request.layers.yards["role"]
    joined, status = int((roles == MEMBER).sum()), decisions["status"]
    today = (headline.get("together") or {}).get("today") or {}
    return Milestone(
        date="" if date is None else date.isoformat(),
        after=after,
        asked=joined + int(status.isin((*REFUSED, ASKED, ASK_AGAIN)).sum()),
        joined=joined,
        planted=int((status == PLANTED).sum()),
        alive=len(living_of(request.existing)),
        broods=_known(today.get("broods")),
        area_m2=_known(today.get("equivalent_area_m2")),
        species=_species(request),
    )


def _known(value: Any) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _species(request: Groundwork) -> int | None:
    """Return how many kinds of butterflies are recorded as seen, None without a table of sightings."""
    seen = request.layers.frame("sightings")
    if seen is None or "butterfly" not in seen:
        return None
    rows = seen
    if "count" in seen:  # a visit on which nothing was seen is a row with 0
        rows = seen[pd.to_numeric(seen["count"], errors="coerce").fillna(1) > 0]
    names = sorted(set(rows["butterfly"].dropna().astype(str)))
    matches = resolve_butterflies(names, request.knowledge)
    return len({match.accepted for match in matches if match.accepted is not None})

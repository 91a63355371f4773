"""What could be: linked breeding ground if every yard with open ground were planted, whoever signs up."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from habitat.connectivity.case import case_of
from habitat.connectivity.types import CouldBe, Neighbourhood
from habitat.executor import Executor
from habitat.pipeline.candidates import may_be_asked
from habitat.pipeline.corridor import movements_of
from habitat.pipeline.planting import Groundwork, estimate_of
from habitat.pipeline.sightings import anchors_of
from habitat.terms import MEMBER, PLANNED

MOST_YARDS = 2_000
"""Yards whose habitat is estimated for this: a minute of one core, and more beyond."""


def could_be(
    ground: Groundwork, butterflies: tuple[str, ...], executor: Executor | None = None
) -> CouldBe | None:
    """Return the equivalent connected area that could be, by butterfly; None where it is not worked out.

    Parameters
    ----------
    ground
        What the stages before planting found. Who takes part, and what households answered, counts for
        nothing.
    butterflies
        Scientific names of the corridor; those that nobody plans for are left out.
    executor
        Who estimates single yards.

    Returns
    -------
    CouldBe or None
        None where only some of those who take part were planned, or where there are more than ``MOST_YARDS``.

    Notes
    -----
    Every yard that the rule for candidates lets in stands with its estimated habitat at the study's own
    money, as a disc in its middle; distances are straight.
    """
    yards, study = ground.layers.yards, ground.study
    part = set(yards.loc[yards["role"].isin(PLANNED), "yard_id"]) - set(ground.yard_ids)
    named = tuple(b for b in butterflies if b in ground.wishes)
    mine = yards[may_be_asked(ground)]
    if part or not named or not 0 < len(mine) <= MOST_YARDS:
        return None
    estimated = estimate_of(ground, tuple(mine["yard_id"]), executor)
    anchors, _ = anchors_of(study, ground.layers, ground.knowledge)
    everyone = mine[["yard_id", "geometry"]].assign(role=MEMBER)
    breeding = _discs(everyone, estimated, named)
    town = Neighbourhood(everyone, breeding, breeding.iloc[:0], tuple(anchors))
    cases = [
        case_of(town, m, study.connectivity.cut)[0] for m in movements_of(study, ground.knowledge, named)
    ]
    return CouldBe({c.butterfly: c.state("members").connected().equivalent_area_m2 for c in cases}, len(mine))


def _discs(
    yards: gpd.GeoDataFrame, estimated: pd.DataFrame, butterflies: tuple[str, ...]
) -> gpd.GeoDataFrame:
    """Return the planned breeding ground: for each yard and butterfly a disc of the estimated area."""
    middle = shapely.centroid(yards.geometry.to_numpy())
    parts = []
    for name in butterflies:
        area = estimated[name].to_numpy(float)
        held = area > 0.0
        discs = shapely.buffer(middle[held], np.sqrt(area[held] / np.pi), quad_segs=2)
        rows = {"yard_id": yards["yard_id"].to_numpy()[held], "habitat_m2": area[held], "broods": np.nan}
        frame = gpd.GeoDataFrame(rows, geometry=discs, crs=yards.crs)
        parts.append(frame.assign(butterfly=name, state="planned"))
    return gpd.GeoDataFrame(pd.concat(parts, ignore_index=True), geometry="geometry", crs=yards.crs)

"""Whom a study may ask: by rule beside the sign-up sheet, and an estimate of who gets a plan first."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.stats import spearmanr

from habitat.arrays import Flags, Floats, Ints
from habitat.connectivity.types import Movement
from habitat.executor import Executor
from habitat.factors import FACTORS
from habitat.knowledge import Knowledge
from habitat.knowledge.food import host_worth
from habitat.layers.types import Layers
from habitat.pipeline.corridor import movements_of
from habitat.pipeline.planting import Groundwork, closer_estimate_of, estimate_of
from habitat.pipeline.sightings import anchors_of
from habitat.pipeline.where import where_allows
from habitat.planting.anchors import Anchor
from habitat.remarks import Remark, remark
from habitat.suitability.fit import fit
from habitat.suitability.types import Needs
from habitat.terms import CANDIDATE, MEMBER, OTHER

LEAST_OPEN_M2 = 15.0
"""Open ground below which a lot has no room for a bed and its edges: judgement."""
USUAL_BED_M2 = 12.0
"""Ground that hosts of one butterfly take up in a plan at most: judgement, by plans of the sample town."""
CLOSER_A_PLAN = 2
"""Yards of which beds are found and chosen, and not drawn, for each that gets a plan: judgement."""
AT_ONCE = 1_000
ESTIMATES_A_PLAN, ESTIMATES_MOST = 10, 2_000
"""Yards whose habitat is estimated for each that gets a plan, and in all: judgement."""


def with_candidates(
    ground: Groundwork,
    butterflies: tuple[str, ...],
    declined: frozenset[str] = frozenset(),
    asked: frozenset[str] = frozenset(),
    executor: Executor | None = None,
) -> tuple[Layers, pd.DataFrame, tuple[Remark, ...]]:
    """Return the layers with candidates by rule, the estimated habitat of some yards [m2], and notes.

    Parameters
    ----------
    ground
        What the stages before planting found.
    butterflies
        Scientific names of the corridor.
    declined
        Yards that said no since an earlier run, or are to be asked later.
    asked
        Yards that have been asked: they stay candidates, and take no other's place.
    executor
        Who estimates single yards.

    Returns
    -------
    tuple
        Yards within reach of a member or an anchor that are in no row of the sign-up sheet, have open ground
        and pass ``where`` may be asked. A quick look at fit, room and place says whose habitat is estimated.
        Where these are more than ``plan_at_most``, the estimate says of whom beds are found and chosen, and
        that who of them are the best: they become candidates. Who is on the sheet stays what the sheet says.
    """
    study, layers = ground.study, ground.layers
    yards, settings = layers.yards, study.connectivity
    listed = set(layers.vectors["participants"].frame["yard_id"].dropna().astype(str)) | declined
    offers, room = ground.site.yards.set_index("yard_id").loc[yards["yard_id"]], _room_m2(ground)
    free = (yards["role"] == OTHER).to_numpy() & ~yards["yard_id"].isin(listed).to_numpy()
    been = free & yards["yard_id"].isin(asked).to_numpy()
    free &= ~been
    anchors, _ = anchors_of(study, layers, ground.knowledge)
    movements = movements_of(study, ground.knowledge, butterflies)
    near = free & may_be_asked(ground) & _within_reach(yards, anchors, movements)
    own = quick_habitat(offers, room, ground.needs, ground.knowledge, butterflies)
    best = _best(near, quick_worth(yards, own, anchors, movements))
    tried = best[: min(ESTIMATES_A_PLAN * settings.plan_at_most, ESTIMATES_MOST)]
    estimated = estimate_of(ground, tuple(yards["yard_id"].iloc[tried]), executor)
    own = _with_estimates(own, estimated, tried, butterflies)
    chosen = _best(np.isin(np.arange(len(yards)), tried), quick_worth(yards, own, anchors, movements))
    if len(chosen) > settings.plan_at_most:
        near_best = chosen[: CLOSER_A_PLAN * settings.plan_at_most]
        closer = closer_estimate_of(ground, tuple(yards["yard_id"].iloc[near_best]), executor)
        estimated.update(closer)
        own = _with_estimates(own, closer, near_best, butterflies)
        worth = quick_worth(yards, own, anchors, movements)
        chosen = _best(np.isin(np.arange(len(yards)), near_best), worth)[: settings.plan_at_most]
    role = yards["role"].to_numpy(object).copy()
    role[chosen] = role[been] = CANDIDATE
    vectors = layers.vectors | {"yards": replace(layers.vectors["yards"], frame=yards.assign(role=role))}
    told = remark(
        "candidates_by_rule", could=int(near.sum()), planned=len(chosen), apart=int((free & ~near).sum())
    )
    return replace(layers, vectors=vectors), estimated, (told,)


def may_be_asked(ground: Groundwork) -> Flags:
    """Return (yards,) who may be asked, were nobody on a sign-up sheet and everybody within reach."""
    return (_room_m2(ground) >= LEAST_OPEN_M2) & where_allows(ground.layers.yards, ground.study)


def _room_m2(ground: Groundwork) -> Floats:
    """Return (yards,) the open ground, that of the parcel where it is not known [m2]."""
    yards = ground.layers.yards
    open_m2 = ground.site.yards.set_index("yard_id").loc[yards["yard_id"], "open_m2"].to_numpy(float)
    return np.where(np.isnan(open_m2), yards["area_m2"].to_numpy(float), open_m2)


def _best(able: Flags, worth: Floats) -> Ints:
    """Return the places of those that are able, the worthiest first."""
    return np.flatnonzero(able)[np.argsort(-worth[able], kind="stable")]


def _with_estimates(
    quick: Floats, estimated: pd.DataFrame, tried: Ints, butterflies: tuple[str, ...]
) -> Floats:
    """Return the habitat (butterflies, yards): of those tried as estimated, of others by the quick look.

    The quick look is brought to the level of the estimates, butterfly by butterfly. It stands for butterflies
    that nobody plans for.
    """
    own = quick.copy()
    for b, name in enumerate(butterflies):
        if name in estimated and len(tried):
            found, seen = estimated[name].to_numpy(float), float(quick[b, tried].sum())
            own[b] *= float(found.sum()) / seen if seen > 0.0 else 0.0
            own[b, tried] = found
    return own


def _within_reach(yards: gpd.GeoDataFrame, anchors: list[Anchor], movements: tuple[Movement, ...]) -> Flags:
    """Return (yards,) who lies within the longest link of some butterfly of a member or an anchor."""
    shapes = [*yards.geometry[yards["role"] == MEMBER], *(a.geometry for a in anchors)]
    reach_m = max((m.reaches["median"].longest_m for m in movements), default=0.0)
    out = np.zeros(len(yards), np.bool_)
    if shapes:
        (of, _), far = shapely.STRtree(shapes).query_nearest(
            yards.geometry.to_numpy(), return_distance=True, all_matches=False
        )
        out[of] = far <= reach_m
    return out


def quick_habitat(
    ground: pd.DataFrame, room_m2: Floats, needs: Needs, knowledge: Knowledge, butterflies: tuple[str, ...]
) -> Floats:
    """Return (butterflies, yards) the habitat that a plan may bring, by fit and room alone [m2].

    Parameters
    ----------
    ground
        Rows of ``Site.yards``: what each yard offers, its mean or most frequent value.
    room_m2
        (yards,) open ground.

    Notes
    -----
    The best host of each butterfly, by fit at the yard's means and by worth, on the ground that hosts usually
    take up or the room there is. Budget, stock, trees and drawing are left out.
    """
    values = {name: _column(ground, name)[None, :] for name in needs.assessed}
    scores = fit(needs, values, shape=(1, len(ground))).high[:, 0, :].astype(float) / 255.0
    place = {plant: k for k, plant in enumerate(needs.plants)}
    out = np.zeros((len(butterflies), len(ground)))
    for b, name in enumerate(butterflies):
        hosts = [(place[p], w) for p, w in host_worth(knowledge, name).items() if p in place]
        for k, worth in hosts:
            out[b] = np.maximum(out[b], worth * scores[k])
    return out * np.minimum(room_m2, USUAL_BED_M2)


def _column(ground: pd.DataFrame, name: str) -> NDArray[np.float32]:
    """Return a factor of the yards as numbers, NaN where unknown."""
    for column in (f"{name}_mean", f"{name}_rank", f"{name}_mode", name):
        if column in ground:
            if pd.api.types.is_numeric_dtype(ground[column]):
                return ground[column].to_numpy(np.float32)
            read = FACTORS[name].read_class
            if read is not None:
                return np.array([read(str(v)) if v else np.nan for v in ground[column]], np.float32)
    return np.full(len(ground), np.nan, np.float32)


def quick_worth(
    yards: gpd.GeoDataFrame, own_m2: Floats, anchors: list[Anchor], movements: tuple[Movement, ...]
) -> Floats:
    """Return (yards,) what each yard may add to what members and anchors hold, over all butterflies.

    Notes
    -----
    For a butterfly a (a / 2 + sum_j a_j p_j) / ECA, a its habitat, j over members and anchors, p the passage
    straight from middle to middle: the first step of the gain in equivalent connected area, relative to the
    whole.
    """
    middle = shapely.get_coordinates(shapely.centroid(yards.geometry.to_numpy())).reshape(-1, 2)
    member = (yards["role"] == MEMBER).to_numpy()
    spots = np.array([a.geometry.centroid.coords[0] for a in anchors], float).reshape(-1, 2)
    at = np.vstack([middle[member], spots])
    held = [[a.host_m2 if a.holds(m.butterfly) else 0.0 for a in anchors] for m in movements]
    area = np.hstack([own_m2[:, member], np.array(held, float).reshape(len(movements), -1)])
    among, reached = _reached(at, at, area, movements), _reached(middle, at, area, movements)
    whole = np.maximum((area * among).sum(axis=1), 1e-9)
    weight = np.array([m.weight for m in movements]) / whole
    return np.asarray(weight @ (own_m2 * (own_m2 / 2.0 + reached)), float)


def _reached(places: Floats, at: Floats, area: Floats, movements: tuple[Movement, ...]) -> Floats:
    """Return (butterflies, places) the sum of areas x passage straight from each place [m2]."""
    out = np.zeros((len(movements), len(places)))
    for first in range(0, len(places), AT_ONCE):
        some = places[first : first + AT_ONCE]
        far = np.hypot(some[:, None, 0] - at[None, :, 0], some[:, None, 1] - at[None, :, 1])
        for b, movement in enumerate(movements):
            reach = movement.reaches["median"]
            part = np.where(far <= reach.longest_m, reach.passage(far), 0.0) @ area[b]
            out[b, first : first + AT_ONCE] = part
    return out


def estimate_error(estimated: pd.DataFrame | None, exact: dict[str, float]) -> tuple[Remark, ...]:
    """Return how the estimate ordered yards beside their plans; nothing of fewer than ten.

    Parameters
    ----------
    estimated
        Habitat by yard and butterfly [m2], as ``estimate_of`` returns it; None if nothing was estimated.
    exact
        Yard -> habitat with its plan [m2].
    """
    rows = () if estimated is None else estimated.sum(axis=1).items()
    totals = {str(yard): float(m2) for yard, m2 in rows}
    both = sorted(set(totals) & set(exact))
    if len(both) < 10:
        return ()
    rank = float(spearmanr([totals[y] for y in both], [exact[y] for y in both]).statistic)
    return (remark("estimate_error", yards=len(both), rank=rank),) if np.isfinite(rank) else ()

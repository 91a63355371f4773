"""What was seen against what was predicted, and where to look next."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.connectivity.case import Case
from habitat.connectivity.measures.connected_area import DENSE_UP_TO, connect, passages
from habitat.connectivity.measures.tables import rows_to
from habitat.remarks import Remark

FEWEST = 3
"""Places with and without a sighting that an area under the curve needs at least: judgement."""
FEWEST_WALKED = 30
"""Places walked below which no area under the curve is told: common practice for small samples."""


@dataclass(frozen=True, slots=True)
class Walks:
    """Sightings placed in yards and anchors.

    rows : place, butterfly (accepted name), month, day (ISO), count, breeding, timed. visits : place,
        month of every timed
    visit. notes : what could not be used.
    """

    rows: pd.DataFrame
    visits: pd.DataFrame
    notes: tuple[Remark, ...]


def observed(
    yards: gpd.GeoDataFrame, case: Case, flight_months: frozenset[int], walks: Walks
) -> dict[str, Any]:
    """Return what sightings say of one butterfly.

    Parameters
    ----------
    yards
        yard_id, geometry: where the prediction is asked for.
    case
        The butterfly's corridor problem.
    flight_months
        Months (1-12) in which a visit could have met adults.
    walks
        Sightings and timed visits by place.

    Returns
    -------
    dict
        ``seen`` and ``breeding_confirmed`` (places); ``visited`` (places with a timed visit in its flight
        time); ``seen_on_walks``: in how many of these it was seen; ``predicted_of_seen``: in how many of
        those it can breed by today's ground; ``auc`` with ``auc_low``, ``auc_high`` (95 %) of today's
        prediction over visited places, None under 30 places or where there are too few of either kind;
        ``calibration``: visited places in thirds of the prediction, each with ``predicted_m2`` (mean),
        ``places``, ``seen_share``, ``low``, ``high`` (95 %); ``look``: yards with breeding ground that
        nobody has visited, the most likely first.

    Notes
    -----
    The prediction is what the place holds and what reaches it, sum_j a_j p*_ij [m2],
        in today's state. It orders
    places; it is no probability.
    """
    mine = walks.rows[(walks.rows["butterfly"] == case.butterfly) & (walks.rows["count"] > 0)]
    seen = sorted(set(mine["place"]))
    visited = sorted(set(walks.visits.loc[walks.visits["month"].isin(flight_months), "place"]))
    predicted = predict(yards, case)
    score = np.array([predicted.get(p, 0.0) for p in visited])
    hit = np.isin(visited, seen) if visited else np.zeros(0, np.bool_)
    auc = area_under_curve(score, hit) if len(visited) >= FEWEST_WALKED else None
    held = set(case.spread.place[case.state("today").nodes[case.state("today").area_m2 > 0.0]])
    ground = set(case.spread.place[(case.spread.area_m2 > 0.0) & (case.spread.role != "anchor")])
    standing = [p for p in case.spread.before if p in ground and p not in visited and p not in seen]
    return {
        "seen": seen,
        "breeding_confirmed": sorted(set(mine.loc[mine["breeding"], "place"])),
        "visited": len(visited),
        "seen_on_walks": int(hit.sum()),
        "predicted_of_seen": sum(p in held for p, there in zip(visited, hit, strict=True) if there),
        "auc": auc[0] if auc else None,
        "auc_low": auc[1] if auc else None,
        "auc_high": auc[2] if auc else None,
        "calibration": _thirds(score, hit),
        "look": sorted(standing, key=lambda p: (-predicted.get(p, 0.0), p))[:5],
    }


def predict(yards: gpd.GeoDataFrame, case: Case) -> dict[str, float]:
    """Return place -> sum_j a_j p*_ij [m2] in today's state, for every yard and anchor."""
    state = case.state("today")
    if not len(state.nodes):
        return {}
    worth = connect(state.graph, state.area_m2, state.cut).arriving_m2
    out = {str(p): float(w) for p, w in zip(case.spread.place[state.nodes], worth, strict=True)}
    bare = yards[~yards["yard_id"].isin(out)]
    if len(bare) and len(state.nodes) <= DENSE_UP_TO:
        best = passages(state.graph, state.cut)
        rows = rows_to(case, state.nodes, bare.geometry.to_numpy(), best, state.cut)
        out |= {str(y): float(r @ state.area_m2) for y, r in zip(bare["yard_id"], rows, strict=True)}
    return out


def area_under_curve(score: NDArray[np.float64], hit: NDArray[np.bool_]) -> tuple[float, float, float] | None:
    """Return the area under the receiver operating curve with its 95 % interval, None with too few places.

    References
    ----------
    DeLong et al. 1988, Biometrics 44:837-845.

    Examples
    --------
    >>> area_under_curve(np.array([1.0, 2, 3, 4, 5, 6]), np.array([0, 0, 1, 0, 1, 1], bool))[0]
    0.8888888888888888
    """
    yes, no = score[hit], score[~hit]
    if len(yes) < FEWEST or len(no) < FEWEST:
        return None
    wins = (yes[:, None] > no[None, :]) + 0.5 * (yes[:, None] == no[None, :])
    auc = float(wins.mean())
    variance = wins.mean(axis=1).var(ddof=1) / len(yes) + wins.mean(axis=0).var(ddof=1) / len(no)
    half = 1.959964 * math.sqrt(float(variance))
    return auc, max(0.0, auc - half), min(1.0, auc + half)


def wilson(hits: int, n: int) -> tuple[float, float]:
    """Return the 95 % interval of a share.

    References
    ----------
    Wilson 1927, J. Am. Stat. Assoc. 22:209-212.

    Examples
    --------
    >>> [round(v, 4) for v in wilson(5, 10)]
    [0.2366, 0.7634]
    """
    z = 1.959964
    middle = (hits + z * z / 2) / (n + z * z)
    half = z / (n + z * z) * math.sqrt(hits * (n - hits) / n + z * z / 4)
    return max(0.0, middle - half), min(1.0, middle + half)


def _thirds(score: NDArray[np.float64], hit: NDArray[np.bool_]) -> list[dict[str, float]]:
    out = []
    for part in np.array_split(np.argsort(score, kind="stable"), 3):
        if len(part):
            low, high = wilson(int(hit[part].sum()), len(part))
            out.append(
                {
                    "predicted_m2": float(score[part].mean()),
                    "places": len(part),
                    "seen_share": float(hit[part].mean()),
                    "low": low,
                    "high": high,
                }
            )
    return out

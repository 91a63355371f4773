"""What was seen against what was predicted, and where to look next."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from habitat.connectivity.case import Case
from habitat.connectivity.measures.connected_area import DENSE_UP_TO, connect, passages
from habitat.connectivity.measures.tables import rows_to
from habitat.connectivity.types import CorridorRequest
from habitat.knowledge import resolve_butterflies
from habitat.layers.join.people import YardBook

BREEDING_STAGES = ("egg", "larva", "caterpillar", "pupa", "chrysalis", "laying", "oviposit")
"""Parts of words that tell that a stage confirms breeding."""
FEWEST = 3
"""Places with and without a sighting that an area under the curve needs at least: judgement."""


@dataclass(frozen=True, slots=True)
class Walks:
    """Sightings placed in yards and anchors.

    rows : place, butterfly (accepted name), month, count, breeding, timed. visits : place,
        month of every timed
    visit. notes : what could not be used.
    """

    rows: pd.DataFrame
    visits: pd.DataFrame
    notes: tuple[str, ...]


def walks_of(request: CorridorRequest) -> Walks | None:
    """Return the study's sightings, None if it has none.

    A row with ``minutes`` is part of a visit during which every butterfly was looked for; a row without is a
    chance sighting, which tells of presence only.
    """
    frame = request.layers.frame("sightings")
    if frame is None or not len(frame):
        return None
    said = frame["butterfly"].astype("string").fillna("").tolist()
    names = [m.accepted for m in resolve_butterflies(said, request.knowledge)]
    date = (
        pd.to_datetime(frame["date"], errors="coerce") if "date" in frame else pd.Series(pd.NaT, frame.index)
    )
    minutes = (
        pd.to_numeric(frame["minutes"], errors="coerce")
        if "minutes" in frame
        else pd.Series(np.nan, frame.index)
    )
    count = (
        pd.to_numeric(frame["count"], errors="coerce") if "count" in frame else pd.Series(1.0, frame.index)
    )
    stage = frame["stage"] if "stage" in frame else pd.Series("", frame.index)
    stage = stage.astype("string").fillna("").str.lower()
    rows = pd.DataFrame(
        {
            "place": _places(request, frame),
            "butterfly": names,
            "month": date.dt.month.to_numpy(),
            "count": count.fillna(1.0).to_numpy(),
            "breeding": stage.apply(lambda s: any(w in s for w in BREEDING_STAGES)).to_numpy(),
            "timed": (minutes > 0).to_numpy(),
        }
    )
    away, unnamed = int(rows["place"].isna().sum()), int(rows["butterfly"].isna().sum())
    notes = [f"{away} sighting(s) lie in no yard and no anchor; they are not compared."] if away else []
    if unnamed:
        notes.append(
            f"{unnamed} sighting(s) name a butterfly that is not in the tables; they are not compared."
        )
    visits = rows.loc[rows["timed"] & rows["place"].notna() & rows["month"].notna(), ["place", "month"]]
    return Walks(rows[rows["place"].notna()], visits.drop_duplicates(), tuple(notes))


def _places(request: CorridorRequest, frame: gpd.GeoDataFrame | pd.DataFrame) -> list[str | None]:
    """Return the yard or anchor of each sighting: by its place, an address, an anchor's name, a yard id."""
    ids = set(request.yards["yard_id"])
    book = YardBook(request.yards, {}).addresses
    shapes, names = list(request.yards.geometry), list(request.yards["yard_id"])
    if request.anchors is not None:
        shapes += list(request.anchors.geometry)
        names += [f"anchor: {n}" for n in request.anchors["name"]]
    out: list[str | None] = [None] * len(frame)
    if isinstance(frame, gpd.GeoDataFrame):
        point, shape = shapely.STRtree(shapes).query(frame.geometry.to_numpy(), predicate="intersects")
        for p, s in sorted(zip(point.tolist(), shape.tolist(), strict=True), reverse=True):
            out[p] = names[s]
    for column in ("yard_id", "place", "address"):
        if column in frame:
            for k, value in enumerate(frame[column].astype("string").fillna("")):
                lived = book.same(value) if out[k] is None and value else []
                if value in ids:
                    out[k] = value
                elif f"anchor: {value}" in names:
                    out[k] = f"anchor: {value}"
                elif len(lived) == 1:
                    out[k] = lived[0]
    return out


def observed(request: CorridorRequest, case: Case, walks: Walks) -> dict[str, Any]:
    """Return what sightings say of one butterfly.

    Returns
    -------
    dict
        ``seen`` and ``breeding_confirmed`` (places); ``visited`` (places with a timed visit in its flight
        time); ``auc`` with ``auc_low``, ``auc_high`` (95 %) of today's prediction over visited places, None
        where there are too few; ``calibration``: visited places in thirds of the prediction,
            each with ``predicted_m2`` (mean),
        ``places``, ``seen_share``, ``low``, ``high`` (95 %); ``look``: yards with breeding ground that
        nobody has visited, the most likely first.

    Notes
    -----
    The prediction is what the place holds and what reaches it, sum_j a_j p*_ij [m2],
        in today's state. It orders
    places; it is no probability.
    """
    flight = _flight_months(request, case.butterfly)
    mine = walks.rows[(walks.rows["butterfly"] == case.butterfly) & (walks.rows["count"] > 0)]
    seen = sorted(set(mine["place"]))
    visited = sorted(set(walks.visits.loc[walks.visits["month"].isin(flight), "place"]))
    predicted = predict(request, case)
    score = np.array([predicted.get(p, 0.0) for p in visited])
    hit = np.isin(visited, seen) if visited else np.zeros(0, np.bool_)
    auc = area_under_curve(score, hit)
    ground = set(case.spread.place[(case.spread.area_m2 > 0.0) & (case.spread.role != "anchor")])
    standing = [p for p in case.spread.before if p in ground and p not in visited and p not in seen]
    return {
        "seen": seen,
        "breeding_confirmed": sorted(set(mine.loc[mine["breeding"], "place"])),
        "visited": len(visited),
        "auc": auc[0] if auc else None,
        "auc_low": auc[1] if auc else None,
        "auc_high": auc[2] if auc else None,
        "calibration": _thirds(score, hit),
        "look": sorted(standing, key=lambda p: (-predicted.get(p, 0.0), p))[:5],
    }


def predict(request: CorridorRequest, case: Case) -> dict[str, float]:
    """Return place -> sum_j a_j p*_ij [m2] in today's state, for every yard and anchor."""
    state = case.state("today")
    if not len(state.nodes):
        return {}
    worth = connect(state.graph, state.area_m2, state.cut).arriving_m2
    out = {str(p): float(w) for p, w in zip(case.spread.place[state.nodes], worth, strict=True)}
    bare = request.yards[~request.yards["yard_id"].isin(out)]
    if len(bare) and len(state.nodes) <= DENSE_UP_TO:
        best = passages(state.graph, state.cut)
        rows = rows_to(case, state.nodes, bare.geometry.to_numpy(), best, state.cut)
        out |= {str(y): float(r @ state.area_m2) for y, r in zip(bare["yard_id"], rows, strict=True)}
    return out


def _flight_months(request: CorridorRequest, butterfly: str) -> set[int]:
    row = request.knowledge.butterflies.loc[butterfly]
    first, last = (int(str(row[f"flight_{end}_month"])) for end in ("start", "end"))
    return {(first - 1 + k) % 12 + 1 for k in range((last - first) % 12 + 1)}


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

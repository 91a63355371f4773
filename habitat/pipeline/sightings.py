"""Sightings of a study, placed in yards and anchors, and what they say of breeding in anchors."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import pandas as pd
import shapely

from habitat.connectivity.measures.sightings import Walks
from habitat.knowledge import Knowledge, resolve_butterflies
from habitat.layers.join.people import YardBook
from habitat.layers.types import Layers
from habitat.planting.anchors import Anchor, read_anchors
from habitat.remarks import Remark, Subject, remark
from habitat.study.model import Study
from habitat.terms import anchor_id, anchor_name

BREEDING_STAGES = ("egg", "larva", "caterpillar", "pupa", "chrysalis", "laying", "oviposit")
"""Parts of words that tell that a stage confirms breeding."""
LIKELY_DAYS = 2
"""Days with adults in one place from which on breeding there is likely: common practice of breeding surveys,
which ask for adults on two dates (memory)."""


def anchors_of(
    study: Study, layers: Layers, knowledge: Knowledge
) -> tuple[list[Anchor], tuple[Remark | str, ...]]:
    """Return the anchors of a study's layers and sightings, and notes; see ``read_anchors``.

    Eggs or young seen in an anchor confirm that the butterfly breeds there; adults on two days or more make
    it likely, unless the layer says that none does.
    """
    anchors, notes = read_anchors(layers.frame("anchors"), knowledge, study.connectivity.anchor_host_share)
    walks = walks_of(layers, knowledge) if anchors else None
    if walks is None:
        return anchors, notes
    told: list[Remark | str] = list(notes)
    out = []
    for anchor in anchors:
        seen, young = _seen_in(anchor, walks)
        out.append(seen)
        told += [remark("young_seen_in_anchor", young)] if young.butterflies else []
    return out, tuple(told)


def _seen_in(anchor: Anchor, walks: Walks) -> tuple[Anchor, Subject]:
    """Return an anchor with what was seen in it, and the butterflies that only sightings confirm."""
    rows = walks.rows[(walks.rows["place"] == anchor.place) & (walks.rows["count"] > 0)]
    rows = rows[rows["butterfly"].notna()]
    named = anchor.named or frozenset()
    young = frozenset(rows.loc[rows["breeding"], "butterfly"]) - named
    days = rows.groupby("butterfly")["day"].nunique()
    likely = frozenset(days.index[days >= LIKELY_DAYS]) if anchor.named != frozenset() else frozenset()
    with_young = named | young if young else anchor.named
    seen = replace(anchor, named=with_young, likely=(anchor.likely | likely) - (with_young or frozenset()))
    return seen, Subject(anchors=(anchor_name(anchor.place),), butterflies=tuple(sorted(young)))


def walks_of(layers: Layers, knowledge: Knowledge) -> Walks | None:
    """Return the study's sightings by place, None if it has none.

    A row with ``minutes`` is part of a visit during which every butterfly was looked for; a row without is a
    chance sighting, which tells of presence only.
    """
    frame = layers.frame("sightings")
    if frame is None or not len(frame):
        return None
    blank = pd.Series(None, index=frame.index, dtype=object)
    names = frame["butterfly"].astype("string").fillna("").tolist()
    stage = frame.get("stage", blank).astype("string").fillna("").str.lower()
    count = pd.to_numeric(frame.get("count", blank), errors="coerce").fillna(1.0)
    when = pd.to_datetime(frame.get("date", blank), errors="coerce")
    rows = pd.DataFrame(
        {
            "place": _places(frame, layers.yards, layers.frame("anchors")),
            "butterfly": [m.accepted for m in resolve_butterflies(names, knowledge)],
            "month": when.dt.month.to_numpy(),
            "day": when.dt.strftime("%Y-%m-%d").to_numpy(),
            "count": count.to_numpy(float),
            "breeding": stage.apply(lambda s: any(w in s for w in BREEDING_STAGES)).to_numpy(),
            "timed": (pd.to_numeric(frame.get("minutes", blank), errors="coerce") > 0).to_numpy(),
        }
    )
    away, unnamed = int(rows["place"].isna().sum()), int(rows["butterfly"].isna().sum())
    notes = [remark("sightings_elsewhere", count=away)] if away else []
    notes += [remark("sightings_unnamed", count=unnamed)] if unnamed else []
    visits = rows.loc[rows["timed"] & rows["place"].notna() & rows["month"].notna(), ["place", "month"]]
    return Walks(rows[rows["place"].notna()], visits.drop_duplicates(), tuple(notes))


def _places(
    frame: gpd.GeoDataFrame | pd.DataFrame, yards: gpd.GeoDataFrame, anchors: gpd.GeoDataFrame | None
) -> list[str | None]:
    """Return the yard or anchor of each sighting: by its place, an address, an anchor's name, a yard id."""
    ids = set(yards["yard_id"])
    book = YardBook(yards, {}).addresses
    shapes, names = list(yards.geometry), list(yards["yard_id"])
    if anchors is not None:
        shapes += list(anchors.geometry)
        names += [anchor_id(n) for n in anchors["name"]]
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
                elif anchor_id(value) in names:
                    out[k] = anchor_id(value)
                elif len(lived) == 1:
                    out[k] = lived[0]
    return out

"""Anchors: habitat that is there already, and which butterflies are known to breed in it."""

from __future__ import annotations

import re
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry.base import BaseGeometry

from habitat.knowledge import Knowledge, resolve_butterflies
from habitat.terms import anchor_id

ALL, NONE = "all", "none"
"""Words of the column ``butterflies`` that stand for every butterfly and for no butterfly."""
UNKNOWN = "nobody has said whether it breeds here"
NOT_NAMED = "not named among the butterflies that breed here"
"""What the life cycle lacks in an anchor."""


@dataclass(frozen=True, slots=True)
class Anchor:
    """One place of habitat that is there already.

    place : "anchor: NAME". host_m2 : its area x host_share [m2], what counts where a butterfly breeds.
    named : the butterflies that breed there, None if nobody has said.
    """

    place: str
    host_m2: float
    geometry: BaseGeometry
    named: frozenset[str] | None

    def holds(self, butterfly: str) -> bool | None:
        """Return whether a butterfly breeds here, None if nobody has said."""
        return None if self.named is None else butterfly in self.named


def read_anchors(
    frame: gpd.GeoDataFrame | None, knowledge: Knowledge, host_share: float
) -> tuple[list[Anchor], tuple[str, ...]]:
    """Return the anchors by place, and what there is to tell about them.

    Parameters
    ----------
    frame
        name, geometry; host_share (0-1), the argument where it is blank; butterflies: names
        with ; or , between, "all" or "none", blank where nobody has said.

    Notes
    -----
    Where nobody has said, an anchor is ground that may be crossed and an end of chains, but breeds nothing:
    unknown is never good.
    """
    if frame is None or not len(frame):
        return [], ()
    share = pd.Series(np.nan, index=frame.index)
    if "host_share" in frame:
        share = pd.to_numeric(frame["host_share"], errors="coerce")
    host_m2 = frame.geometry.area * share.fillna(host_share)
    said = (
        frame["butterflies"] if "butterflies" in frame else pd.Series(None, index=frame.index, dtype=object)
    )
    out, notes = [], list[str]()
    for name, m2, shape, text in zip(frame["name"], host_m2, frame.geometry, said, strict=True):
        named, unknown = _named(text, knowledge)
        out.append(Anchor(anchor_id(name), float(m2), shape, named))
        notes += [f"anchors: {name}: {t}" for t in unknown]
    blank = [str(n) for n, a in zip(frame["name"], out, strict=True) if a.named is None]
    if blank:
        notes.append(
            f"anchors: nobody has said which butterflies breed in {', '.join(sorted(blank))}; until somebody "
            "does, that is ground to cross, not to breed in. Name them in the column butterflies, with ; "
            "between, or write all or none."
        )
    return sorted(out, key=lambda a: a.place), tuple(notes)


def _named(text: object, knowledge: Knowledge) -> tuple[frozenset[str] | None, list[str]]:
    """Return which butterflies a cell names, None if none that the tables know, and what came to nothing."""
    names = [n.strip() for n in re.split("[;,\n]", text) if n.strip()] if isinstance(text, str) else []
    if [n.lower() for n in names] == [ALL]:
        return frozenset(map(str, knowledge.butterflies.index)), []
    if [n.lower() for n in names] == [NONE]:
        return frozenset(), []
    found = resolve_butterflies(names, knowledge)
    unknown = [f"{m.note}; it is not counted there" for m in found if m.accepted is None]
    return frozenset(m.accepted for m in found if m.accepted is not None) or None, unknown

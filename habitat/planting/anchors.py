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
LIKELY = "likely breeds here, not confirmed"
NOT_NAMED = "not named among the butterflies that breed here"
"""What the life cycle lacks in an anchor."""


@dataclass(frozen=True, slots=True)
class Anchor:
    """One place of habitat that is there already.

    place : "anchor: NAME". host_m2 : its area x host_share [m2], what counts where a butterfly breeds.
    named : the butterflies that breed there, None if nobody has said. likely : those that likely do, of which
    nobody has confirmed it.
    """

    place: str
    host_m2: float
    geometry: BaseGeometry
    named: frozenset[str] | None
    likely: frozenset[str] = frozenset()

    def holds(self, butterfly: str) -> bool | None:
        """Return whether a butterfly breeds here, None if nobody has said."""
        if self.named is not None and butterfly in self.named:
            return True
        return None if self.named is None or butterfly in self.likely else False

    def is_end(self, butterfly: str) -> bool:
        """Return whether somebody says that a butterfly breeds here or likely does: chains may end here."""
        return self.holds(butterfly) is True or butterfly in self.likely

    def missing(self, butterfly: str) -> str:
        """Return what a life cycle lacks here, "" where breeding is confirmed."""
        if self.holds(butterfly) is True:
            return ""
        return LIKELY if butterfly in self.likely else UNKNOWN if self.named is None else NOT_NAMED


def read_anchors(
    frame: gpd.GeoDataFrame | None, knowledge: Knowledge, host_share: float
) -> tuple[list[Anchor], tuple[str, ...]]:
    """Return the anchors by place, and what there is to tell about them.

    Parameters
    ----------
    frame
        name, geometry; host_share (0-1), the argument where it is blank; butterflies: names
        with ; or , between, "all" or "none", blank where nobody has said; likely_butterflies: those that
        likely breed there, in the same way.

    Notes
    -----
    Where nobody has said, an anchor is ground that may be crossed, but breeds nothing and ends no chain:
    unknown is never good. Where a butterfly likely breeds it counts no habitat either, but chains may end.
    """
    if frame is None or not len(frame):
        return [], ()
    share = pd.Series(np.nan, index=frame.index)
    if "host_share" in frame:
        share = pd.to_numeric(frame["host_share"], errors="coerce")
    host_m2 = frame.geometry.area * share.fillna(host_share)
    blank_column = pd.Series(None, index=frame.index, dtype=object)
    said, guessed = (frame.get(c, blank_column) for c in ("butterflies", "likely_butterflies"))
    out, notes = [], list[str]()
    rows = zip(frame["name"], host_m2, frame.geometry, said, guessed, strict=True)
    for name, m2, shape, text, guess in rows:
        named, unknown = _named(text, knowledge)
        likely, more = _named(guess, knowledge)
        out.append(Anchor(anchor_id(name), float(m2), shape, named, likely or frozenset()))
        notes += [f"anchors: {name}: {t}" for t in (*unknown, *more)]
    blank = [str(n) for n, a in zip(frame["name"], out, strict=True) if a.named is None and not a.likely]
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

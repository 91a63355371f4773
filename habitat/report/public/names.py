"""Names for a public audience: numbers that hold for one set of results."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.report.words.say import HIDDEN
from habitat.terms import anchor_id


@dataclass(frozen=True, slots=True)
class Names:
    """New names for what is shown, and everything that must not be.

    Parameters
    ----------
    shown
        Old yard id or ``anchor: NAME`` -> new one.
    hidden
        Old ids of yards that are not shown.
    """

    shown: dict[str, str]
    hidden: frozenset[str]

    @classmethod
    def of(cls, yards: gpd.GeoDataFrame, anchors: gpd.GeoDataFrame | None) -> Names:
        """Give numbers to the yards that may be shown and to all anchors, from north to south.

        The numbers follow from the places only, so that they tell nothing about parcel numbers or the order
        of the sign-up sheet.
        """
        leave = yards["publish"].fillna(False).astype(bool)
        open_yards = _by_place(yards[leave], "yard_id")
        wide = max(3, len(str(len(open_yards))))
        shown = {yard: f"{n:0{wide}d}" for n, yard in enumerate(open_yards, 1)}
        for n, name in enumerate(_by_place(anchors, "name"), 1):
            shown[anchor_id(name)] = anchor_id(f"habitat {n}")
        return cls(shown, frozenset(yards.loc[~leave, "yard_id"]))

    def new(self, old: Any) -> str | None:
        """Return the new name of a yard or anchor; None if it is not shown."""
        return self.shown.get(str(old))

    def new_or_hidden(self, old: Any) -> str:
        """Return the new name, or words that give nothing away."""
        return self.shown.get(str(old), HIDDEN)


def _by_place(frame: gpd.GeoDataFrame | None, column: str) -> list[str]:
    if frame is None or frame.empty or column not in frame:
        return []
    points = frame.geometry.representative_point()
    order = pd.DataFrame(
        {"south": -points.y.round(1), "x": points.x.round(1), "name": frame[column].astype(str)}
    )
    return list(dict.fromkeys(order.sort_values(["south", "x", "name"])["name"]))

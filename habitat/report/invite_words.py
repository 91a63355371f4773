"""What an invitation adds and how firm it is, in words."""

from __future__ import annotations

import math
from typing import Any

from habitat.connectivity.words import points


def gain_words(row: Any) -> str:
    """Return what an invitation adds, in points of the joint score, with its range over reach."""
    ends = [getattr(row, f"gain_pct_{reach}_reach", math.nan) for reach in ("low", "high")]
    low, high = (row.gain_pct if e is None or math.isnan(e) else float(e) for e in ends)
    return points(row.gain_pct, low, high)


def kept_words(row: Any, draws: int) -> str:
    """Return in how many tries of reach, soil and luck an invitation stays on the list; "" if not tried."""
    kept = getattr(row, "kept_share", math.nan)
    if kept is None or math.isnan(kept) or draws < 1:
        return ""
    return f"{kept * draws:.0f} of {draws} tries"

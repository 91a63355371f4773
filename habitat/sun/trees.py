"""Trees as shade: trunk, height, crown, leaves; with what had to be assumed told."""

from __future__ import annotations

from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.grid import Grid
from habitat.remarks import Remark, Subject, remark
from habitat.settings.site import SiteSettings
from habitat.sun._kernels import raise_crowns

CROWN_BASE_SHARE = 0.4
"""Height of a crown's rim as a share of the tree's height (judgement); below it the crown counts as solid."""

YES = frozenset({"1", "1.0", "true", "t", "yes", "y", "evergreen", "conifer"})


@dataclass(frozen=True, slots=True)
class Trees:
    """Trees that shade, (trees,) each: x, y [m, the grid's CRS], height_m, crown_m (crown width), evergreen.

    leaf_start, leaf_end : first and last month in leaf, 1-12, of those that lose their leaves; the span may
    go over the turn of the year.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    height_m: NDArray[np.float64]
    crown_m: NDArray[np.float64]
    evergreen: NDArray[np.bool_]
    leaf_start: NDArray[np.int64]
    leaf_end: NDArray[np.int64]

    def bare_in(self, month: int) -> NDArray[np.bool_]:
        """Return which trees stand without leaves in a month."""
        first, last = self.leaf_start, self.leaf_end
        after, before = first <= month, month <= last
        return ~self.evergreen & ~np.where(first <= last, after & before, after | before)

    def only(self, keep: NDArray[np.bool_]) -> Trees:
        """Return some of the trees."""
        return Trees(
            self.x[keep],
            self.y[keep],
            self.height_m[keep],
            self.crown_m[keep],
            self.evergreen[keep],
            self.leaf_start[keep],
            self.leaf_end[keep],
        )

    def raise_on(self, tops: NDArray[np.float32], ground: NDArray[np.float32], grid: Grid) -> None:
        """Raise ``tops`` [m] to the crowns, in place; trees outside the grid reach in with their crowns."""
        cols = (self.x - grid.transform.c) / grid.cell_m
        rows = (grid.transform.f - self.y) / grid.cell_m
        radius = np.maximum(self.crown_m / 2 / grid.cell_m, 1e-6)
        raise_crowns(tops, ground, cols, rows, radius, self.height_m, CROWN_BASE_SHARE)

    def discs(self, grid: Grid, wider_m: float) -> NDArray[np.bool_]:
        """Return the cells whose centre lies under a crown, or within ``wider_m`` of one."""
        tops, level = np.zeros(grid.shape, np.float32), np.zeros(grid.shape, np.float32)
        wide = replace(self, height_m=np.ones_like(self.x), crown_m=self.crown_m + 2 * wider_m)
        wide.raise_on(tops, level, grid)
        return tops > 0


def is_yes(values: pd.Series) -> NDArray[np.bool_]:
    """Return which values say yes: one of ``YES``, in any case. Blanks and everything else say no."""
    return np.asarray(values.astype("string").str.strip().str.lower().isin(YES).fillna(False), bool)


_TREES = Subject(layers=("trees",))


def read_trees(frame: gpd.GeoDataFrame | None, settings: SiteSettings) -> tuple[Trees | None, list[Remark]]:
    """Return the trees of a frame of points or crown polygons.

    Parameters
    ----------
    frame
        height_m, crown_m (crown width) [m], evergreen (yes or no), leaf_start_month, leaf_end_month (1-12);
        any may be missing.
    settings
        What is assumed where they are.

    Returns
    -------
    tuple
        The trees, None for none; and which measures had to be assumed.
    """
    if frame is None or not len(frame):
        return None, []
    frame = frame[~(frame.geometry.isna() | frame.geometry.is_empty)]
    middle = frame.geometry.representative_point()
    drawn = 2 * np.sqrt(frame.geometry.area.to_numpy() / np.pi)
    height, no_height = _positive(frame, "height_m", np.full(len(frame), settings.tree_height_m))
    crown, no_crown = _positive(
        frame, "crown_m", np.where(drawn > 0, drawn, height * settings.tree_crown_share)
    )
    no_crown &= ~(drawn > 0)
    evergreen = is_yes(frame["evergreen"]) if "evergreen" in frame.columns else np.zeros(len(frame), bool)
    notes = []
    if no_height.any():
        notes.append(
            remark(
                "trees_without_height",
                _TREES,
                count=int(no_height.sum()),
                of=len(frame),
                assumed_height_m=float(settings.tree_height_m),
            )
        )
    if no_crown.any():
        notes.append(
            remark(
                "trees_without_crown",
                _TREES,
                count=int(no_crown.sum()),
                of=len(frame),
                assumed_crown_share=float(settings.tree_crown_share),
            )
        )
    leaf_start, leaf_end = _leaf_months(frame, settings.leaf_on)
    x, y = middle.x.to_numpy(), middle.y.to_numpy()
    return Trees(x, y, height, crown, evergreen, leaf_start, leaf_end), notes


def _leaf_months(
    frame: gpd.GeoDataFrame, usual: tuple[int, int]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the first and last month in leaf; where either is missing, both are the study's."""
    given = [
        pd.to_numeric(frame[column], errors="coerce").to_numpy(float)
        if column in frame.columns
        else np.full(len(frame), np.nan)
        for column in ("leaf_start_month", "leaf_end_month")
    ]
    known = np.all([(g >= 1) & (g <= 12) for g in given], axis=0)
    start, end = (np.where(known, g, u).astype(np.int64) for g, u in zip(given, usual, strict=True))
    return start, end


def _positive(
    frame: gpd.GeoDataFrame, column: str, otherwise: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return a column with its missing or impossible values replaced, and which those were."""
    if column not in frame.columns:
        return np.asarray(otherwise, float), np.ones(len(frame), bool)
    given = pd.to_numeric(frame[column], errors="coerce").to_numpy(float)
    missing = ~(given > 0)
    return np.where(missing, otherwise, given), missing

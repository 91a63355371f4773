"""Rasters as classes in words: colours in even steps, a legend entry for each class that occurs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import matplotlib as mpl
import numpy as np
from matplotlib import colormaps
from numpy.typing import NDArray

from habitat.factors.classes import DRAINAGE, TEXTURES
from habitat.grid import Grid
from habitat.report.maps.base import (
    GROUND,
    UNKNOWN_EDGE,
    UNKNOWN_HATCH,
    draw_raster,
    draw_shapes,
    unknown_entry,
)
from habitat.report.maps.style import PAPER
from habitat.soil.words import REACTION

PALE = 0.22
"""Share of paper mixed into colours of whole areas, so that they stay calm and lines stand out."""


@dataclass(frozen=True, slots=True)
class Classes:
    """Classes of a value: ``edges`` between them (one fewer than ``words``), and colours.

    ``numbers`` says that values are class numbers 1, 2, ... instead.
    """

    words: tuple[str, ...]
    edges: tuple[float, ...] = ()
    colours: str = "cividis"
    low: float = 0.0
    high: float = 1.0
    numbers: bool = False

    def colour(self, k: int) -> Any:
        """Return the colour of a class."""
        steps = max(len(self.words) - 1, 1)
        full = np.array(colormaps[self.colours](self.low + (self.high - self.low) * k / steps)[:3])
        paper = np.array(mpl.colors.to_rgb(PAPER))
        return tuple(full * (1 - PALE) + paper * PALE)

    def of(self, values: NDArray[Any]) -> NDArray[np.float64]:
        """Return the class of each value, 0 first, NaN where unknown; on an edge the upper one."""
        if self.numbers:
            found = np.rint(values).astype(float) - 1.0
        else:
            found = np.digitize(np.nan_to_num(values), self.edges).astype(float)
        return np.where(np.isfinite(values), found, np.nan)


SUN = Classes(
    (
        "shade, under 2 h",
        "part shade, 2 to 4 h",
        "part sun, 4 to 6 h",
        "full sun, 6 to 8 h",
        "full sun, 8 to 10 h",
        "full sun, 10 to 12 h",
        "full sun, 12 h and more",
    ),
    (2.0, 4.0, 6.0, 8.0, 10.0, 12.0),
)
"""Hours of direct sun per clear day; 2, 4 and 6 h are limits of the practice table."""

PH = Classes(tuple(w for _, w in REACTION), tuple(e - 0.05 for e, _ in REACTION[:-1]), "viridis")
"""Classes are of the pH rounded to one decimal."""

WET = Classes(DRAINAGE, colours="cividis", numbers=True)
TEXTURE = Classes(tuple(TEXTURES), colours="viridis", numbers=True)
DEPTH = Classes(
    ("under 30 cm", "30 to 60 cm", "60 to 100 cm", "100 cm and more"), (30.0, 60.0, 100.0), "cividis"
)
WATER = Classes(
    ("under 50 mm", "50 to 100 mm", "100 to 150 mm", "150 to 200 mm", "200 mm and more"),
    (50.0, 100.0, 150.0, 200.0),
    "viridis",
)


def draw_classes(
    ax: Any, grid: Grid, values: NDArray[Any], classes: Classes, *, shown: Sequence[int] | None = None
) -> list[tuple[Any, str]]:
    """Draw a raster in classes and return legend entries for the classes that occur, and for unknown.

    Parameters
    ----------
    values
        ``(rows, cols)`` on the grid, NaN where unknown.
    shown
        Classes to spread the colours over, where a map of few classes needs them farther apart; None takes
        those from the first to the last that occur.
    """
    found = classes.of(values)
    colours, entries = _spread(classes, found, shown)
    span = list(colours)
    palette = mpl.colors.ListedColormap([colours[k] for k in span])
    norm = mpl.colors.BoundaryNorm([span[0] - 0.5, *(k + 0.5 for k in span)], len(span))
    unknown = np.isnan(found)
    small = np.ma.masked_array(np.where(unknown, 0, found).astype(np.uint8), unknown)  # drawn in less memory
    draw_raster(ax, grid, small, cmap=palette, norm=norm)
    return entries


def fill_classes(
    ax: Any, shapes: gpd.GeoSeries, values: NDArray[Any], classes: Classes
) -> list[tuple[Any, str]]:
    """Fill shapes by the class of their value and return legend entries, as ``draw_classes`` does."""
    found = classes.of(values)
    colours, entries = _spread(classes, found, None)
    for k, colour in colours.items():
        draw_shapes(ax, shapes[found == k], facecolors=[colour], edgecolors="none", zorder=1)
    unknown = {"facecolors": GROUND, "edgecolors": UNKNOWN_EDGE, "hatch": UNKNOWN_HATCH, "linewidths": 0.0}
    draw_shapes(ax, shapes[np.isnan(found)], zorder=1, **unknown)
    return entries


def _spread(
    classes: Classes, found: NDArray[np.float64], shown: Sequence[int] | None
) -> tuple[dict[int, Any], list[tuple[Any, str]]]:
    """Return colours of the classes that colours are spread over, and legend entries of those that occur."""
    there = [int(k) for k in np.unique(found[np.isfinite(found)])]
    span = list(shown) if shown is not None else list(range(min(there, default=0), max(there, default=0) + 1))
    local = Classes(tuple(classes.words[k] for k in span), colours=classes.colours, low=0.04, high=0.98)
    colours = {k: local.colour(n) for n, k in enumerate(span)}
    entries = [(mpl.patches.Patch(fc=colours[k], ec="#8a877c", lw=0.3), classes.words[k]) for k in there]
    return colours, [*entries, *([unknown_entry()] if np.isnan(found).any() else [])]

"""What lies under every map (yards, buildings, streets, water, existing habitat) and how shapes are drawn."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from typing import Any

import geopandas as gpd
import matplotlib as mpl
import numpy as np
import pandas as pd
import shapely
from matplotlib.collections import LineCollection, PathCollection
from matplotlib.path import Path as Outline
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from habitat.grid import Bounds, Grid
from habitat.report.maps.style import INK, PAPER, QUIET
from habitat.report.plan import Plan
from habitat.terms import PLANNED

GROUND, EDGE, HOUSE, PAVED, WATER = "#f3f1e9", "#bdb8aa", "#d5d0c3", "#e6e2d7", "#c9d9e2"
ANCHOR = "#dbe4cf"
UNKNOWN_HATCH, UNKNOWN_EDGE = "xxx", "#a9a598"


def draw_shapes(ax: Any, shapes: Iterable[Any], **look: Any) -> Any:
    """Draw polygons (holes kept) as one collection; look as for ``PathCollection``."""
    return _draw_paths(ax, _paths(shapes), **look)


def _draw_paths(ax: Any, paths: list[Outline], **look: Any) -> Any:
    collection = PathCollection(paths, **{"linewidths": 0.4, **look})
    ax.add_collection(collection, autolim=False)
    return collection


def _paths(shapes: Iterable[Any]) -> list[Outline]:
    return [_outline(p) for p in parts_of(shapes) if p.geom_type == "Polygon"]


class _Layer:
    """A table of shapes, told from others by which it is: all maps share what was made of it."""

    def __init__(self, frame: gpd.GeoDataFrame) -> None:
        self.frame = frame

    def __hash__(self) -> int:
        return id(self.frame)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Layer) and other.frame is self.frame


@functools.lru_cache(maxsize=8)
def _layer_paths(layer: _Layer) -> list[Outline]:
    return _paths(layer.frame.geometry)


@functools.lru_cache(maxsize=1)
def _street_paths(layer: _Layer) -> list[Outline]:
    frame = layer.frame
    widths = frame["width_m"] if "width_m" in frame else pd.Series(6.0, index=frame.index)
    return _paths([shapely.union_all(frame.geometry.buffer(widths.astype(float).fillna(6.0) / 2).to_numpy())])


def draw_lines(ax: Any, shapes: Iterable[Any], **look: Any) -> Any:
    """Draw lines, and the outlines of polygons, as one collection."""
    lines = []
    for shape in parts_of(shapes):
        line = shape.boundary if shape.geom_type == "Polygon" else shape
        lines += [np.asarray(part.coords)[:, :2] for part in parts_of([line]) if part.geom_type != "Point"]
    collection = LineCollection(lines, **{"linewidths": 0.6, **look})
    ax.add_collection(collection, autolim=False)
    return collection


def parts_of(shapes: Iterable[Any]) -> list[Any]:
    """Return the single parts of shapes, without missing or empty ones."""
    found = np.asarray([s for s in shapes if s is not None and not s.is_empty], dtype=object)
    return list(shapely.get_parts(shapely.get_parts(found))) if len(found) else []


def _outline(polygon: Any) -> Outline:
    rings = [np.asarray(r.coords)[:, :2] for r in (polygon.exterior, *polygon.interiors)]
    codes = [np.r_[Outline.MOVETO, np.full(len(r) - 2, Outline.LINETO), Outline.CLOSEPOLY] for r in rings]
    return Outline(np.concatenate(rings), np.concatenate(codes).astype(np.uint8))


def town_bounds(plan: Plan) -> Bounds:
    """Return the bounds of all yards and of the existing habitat."""
    shapes = [plan.yards.geometry]
    anchors = plan.layers.frame("anchors")
    if anchors is not None and len(anchors):
        shapes.append(anchors.geometry)
    boxes = np.array([s.total_bounds for s in shapes if len(s) and np.isfinite(s.total_bounds).all()])
    if not len(boxes):
        return plan.layers.grid.bounds
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


LOCATED = 0.5
"""A map of less than this share of the town gets a locator: judgement."""


def group_bounds(plan: Plan) -> Bounds:
    """Return the bounds of members and candidates, as far around as butterflies of the plan often fly.

    Never beyond the town; the town's where nobody takes part.
    """
    town = town_bounds(plan)
    mine = plan.yards[plan.yards["role"].isin(PLANNED)]
    names = [b for b in plan.headline.get("butterflies", {}) if b in plan.knowledge.butterflies.index]
    if mine.empty or not names:
        return town
    reach_m = float(plan.knowledge.butterflies.loc[names, "typical_movement_median_m"].astype(float).median())
    west, south, east, north = mine.total_bounds
    return (
        max(town[0], west - reach_m),
        max(town[1], south - reach_m),
        min(town[2], east + reach_m),
        min(town[3], north + reach_m),
    )


LOCATOR = 0.2
"""Side of the locator, as a share of the map's."""

CORNERS = {"SW": (0.015, 0.015), "SE": (0.785, 0.015), "NW": (0.015, 0.785), "NE": (0.785, 0.785)}
"""Where the locator may lie, by its lower left corner on the map."""


def draw_locator(ax: Any, plan: Plan) -> None:
    """Show where in the town a map lies, if it is but a part of it, in the corner that hides least."""
    west, south, east, north = town_bounds(plan)
    (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
    if (right - left) * (high - low) >= LOCATED * (east - west) * (north - south):
        return
    corner = quiet_corner(plan, (left, low, right, high))
    inset = ax.inset_axes((*CORNERS[corner], LOCATOR, LOCATOR), zorder=30)
    rim = 0.03 * max(east - west, north - south)
    inset.set(xlim=(west - rim, east + rim), ylim=(south - rim, north + rim), xticks=[], yticks=[])
    inset.set_facecolor(PAPER)
    inset.set_aspect("equal", anchor=corner)
    draw_shapes(inset, plan.yards.geometry, facecolors=EDGE, edgecolors="none")
    anchors = _frame(plan, "anchors")
    draw_shapes(inset, [] if anchors is None else anchors.geometry, facecolors=ANCHOR, edgecolors="none")
    shown = shapely.box(west, south, east, north).intersection(shapely.box(left, low, right, high))
    draw_shapes(
        inset, [shown.buffer(rim / 2, join_style="mitre")], facecolors="none", edgecolors=INK, linewidths=1.2
    )


def quiet_corner(plan: Plan, frame: Bounds) -> str:
    """Return the corner of a map in which least ground lies of who takes part, or else of other yards."""
    left, low, right, high = frame
    wide, tall = right - left, high - low
    mine = plan.yards["role"].isin(PLANNED)
    hidden = {}
    for name, (x, y) in CORNERS.items():
        west, south = left + x * wide, low + y * tall
        there = shapely.box(west, south, west + LOCATOR * wide, south + LOCATOR * tall)
        area = plan.yards.geometry.intersection(there).area
        hidden[name] = (round(float(area[mine].sum()), 3), round(float(area.sum()), 3))
    return min(hidden, key=lambda name: hidden[name])


def draw_base(
    ax: Any, plan: Plan, *, faint: bool = False, anchors: bool = True, line_pt: float = 0.45
) -> list[tuple[Any, str]]:
    """Draw the town in quiet greys and return its legend entries.

    Parameters
    ----------
    faint
        Outlines only, to lie over a raster.
    anchors
        Whether existing habitat is filled in too.
    line_pt
        Width of the yards' outlines.
    """
    entries: list[tuple[Any, str]] = []
    if not faint:
        _draw_paths(ax, _layer_paths(_Layer(plan.yards)), facecolors=GROUND, edgecolors="none", zorder=1)
    entries += _areas(ax, plan, "water", WATER, "water", faint=faint)
    if anchors:
        entries += _anchors(ax, plan, faint=faint)
    if not faint:
        entries += _streets(ax, plan)
        entries += _areas(ax, plan, "paving", PAVED, "paving", faint=False)
    entries += _areas(ax, plan, "buildings", HOUSE, "buildings", faint=faint)
    draw_lines(ax, plan.yards.geometry, colors=QUIET if faint else EDGE, linewidths=line_pt, zorder=5)
    entries.append((mpl.patches.Patch(fc=GROUND if not faint else "none", ec=EDGE, lw=0.6), "yards"))
    return entries


def _frame(plan: Plan, name: str) -> gpd.GeoDataFrame | None:
    frame = plan.layers.frame(name)
    return None if frame is None or frame.empty or "geometry" not in frame else frame


def _areas(ax: Any, plan: Plan, name: str, colour: str, words: str, *, faint: bool) -> list[tuple[Any, str]]:
    frame = _frame(plan, name)
    if frame is None:
        return []
    bare = faint and name != "buildings"
    look = {"facecolors": "none" if bare else colour, "edgecolors": QUIET if faint else EDGE}
    over = {"buildings": 4, "paving": 3.8}.get(name, 3)
    _draw_paths(ax, _layer_paths(_Layer(frame)), linewidths=0.3, zorder=over, **look)
    if name == "water":
        draw_lines(
            ax, [s for s in frame.geometry if "Line" in s.geom_type], colors=WATER, linewidths=2.0, zorder=2
        )
    patch = mpl.patches.Patch(fc=look["facecolors"], ec=look["edgecolors"], lw=0.5)
    return [(patch, words)]


def _anchors(ax: Any, plan: Plan, *, faint: bool) -> list[tuple[Any, str]]:
    frame = _frame(plan, "anchors")
    if frame is None:
        return []
    look: dict[str, Any] = {"facecolors": "none" if faint else ANCHOR, "edgecolors": "#66755a"}
    paths = _layer_paths(_Layer(frame))
    _draw_paths(ax, paths, hatch=None if faint else "..", linewidths=0.7, zorder=2, **look)
    return [
        (
            mpl.patches.Patch(fc=look["facecolors"], ec="#66755a", hatch=None if faint else "...", lw=0.7),
            "existing habitat to join",
        )
    ]


def _streets(ax: Any, plan: Plan) -> list[tuple[Any, str]]:
    frame = _frame(plan, "streets")
    if frame is None:
        return []
    paths = _street_paths(_Layer(frame))
    _draw_paths(ax, paths, facecolors="#ffffff", edgecolors=EDGE, linewidths=0.5, zorder=3.85)
    line = mpl.lines.Line2D([], [], color="#ffffff", lw=2.4, path_effects=[_casing()])
    return [(line, "streets")]


def _casing() -> Any:
    return withStroke(linewidth=3.4, foreground=EDGE)


def halo() -> list[Any]:
    """Return the effect that sets text off from what lies below."""
    return [withStroke(linewidth=2.0, foreground=PAPER)]


def draw_raster(ax: Any, grid: Grid, values: NDArray[Any], **look: Any) -> Any:
    """Draw a raster; what is unknown is left as a hatch, never as a colour."""
    west, south, east, north = grid.bounds
    extent = (west, east, south, north)
    masked = np.ma.masked_invalid(values)
    if masked.mask.any():
        ax.add_patch(
            mpl.patches.Rectangle(
                (west, south),
                east - west,
                north - south,
                fc=GROUND,
                ec=UNKNOWN_EDGE,
                hatch=UNKNOWN_HATCH,
                lw=0,
                zorder=0,
            )
        )
    return ax.imshow(masked, extent=extent, interpolation="nearest", zorder=0.5, aspect="equal", **look)


def unknown_entry() -> tuple[Any, str]:
    """Return the legend entry for what is unknown."""
    return mpl.patches.Patch(fc=GROUND, ec=UNKNOWN_EDGE, hatch=UNKNOWN_HATCH, lw=0.5), "unknown"


def ink_line(**look: Any) -> Any:
    """Return a legend handle for a line."""
    return mpl.lines.Line2D([], [], **{"color": INK, "lw": 1.2, **look})

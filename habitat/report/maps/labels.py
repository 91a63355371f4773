"""Labels that don't collide: each takes the first free place of a few around its point, or is left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from habitat.report.maps.base import halo
from habitat.report.maps.style import INK


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a point (map metres); greater ``weight`` goes first; ``away`` allows places beside it."""

    x: float
    y: float
    words: str
    weight: float = 0.0
    size: float = 7.0
    bold: bool = False
    away: bool = True


NEAR = ((0.0, 0.0),)
AROUND = (
    (0.0, 1.0),
    (1.0, 0.6),
    (-1.0, 0.6),
    (1.0, -0.6),
    (-1.0, -0.6),
    (0.0, -1.0),
    (0.0, 2.2),
    (1.3, 1.8),
    (-1.3, 1.8),
    (1.3, -1.8),
    (-1.3, -1.8),
    (0.0, -2.2),
)
"""Places to try, in widths and heights of the label from the point."""


def place_labels(
    ax: Any, labels: Sequence[Label], *, gap_pt: float = 3.0, off: Sequence[NDArray[Any]] = ()
) -> int:
    """Write labels on a map so that none overlaps another, or text that stands there, or leaves the frame.

    Parameters
    ----------
    labels
        Placed in order of weight, then of words.
    gap_pt
        Distance of a label beside its point [pt].
    off
        Lines, ``(points, 2)`` in map metres, that labels keep off where there is room.

    Returns
    -------
    int
        How many had no room and were left out.
    """
    renderer = ax.figure.canvas.get_renderer()
    ax.apply_aspect()
    frame = ax.get_window_extent(renderer)
    boxes = [text.get_window_extent(renderer) for text in ax.texts if text.get_text()]
    taken = np.array([[b.x0, b.y0, b.x1, b.y1] for b in boxes]).reshape(-1, 4)
    lines = shapely.union_all([shapely.LineString(ax.transData.transform(xy)) for xy in off])
    left_out = 0
    for label in sorted(labels, key=lambda one: (-one.weight, one.words, one.x, one.y)):
        text = ax.text(
            label.x,
            label.y,
            label.words,
            size=label.size,
            weight="bold" if label.bold else "normal",
            color=INK,
            ha="center",
            va="center",
            zorder=25,
            path_effects=halo(),
        )
        box = text.get_window_extent(renderer)
        spot = _free_spot(box, label, (taken, lines, frame), gap_pt * ax.figure.dpi / 72)
        if spot is None:
            text.remove()
            left_out += 1
            continue
        x, y = ax.transData.transform((label.x, label.y)) + np.array(spot)
        text.set_position(ax.transData.inverted().transform((x, y)))
        half = np.array([box.width, box.height]) / 2 + 1.0
        taken = np.vstack([taken, [x - half[0], y - half[1], x + half[0], y + half[1]]])
    return left_out


def _free_spot(
    box: Any, label: Label, there: tuple[NDArray[Any], Any, Any], gap: float
) -> tuple[float, float] | None:
    """Return the first offset [pixels] at which the label lies in the frame and on no other, or None.

    ``there`` is what is taken: boxes of labels, lines to keep off if possible, and the frame.
    """
    taken, lines, frame = there
    second: tuple[float, float] | None = None
    centre = np.array([(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2])
    half = np.array([box.width, box.height]) / 2
    for dx, dy in AROUND if label.away else NEAR:
        move = np.array([dx * (half[0] + gap), dy * (half[1] + gap)])
        low, high = centre + move - half, centre + move + half
        if low[0] < frame.x0 or low[1] < frame.y0 or high[0] > frame.x1 or high[1] > frame.y1:
            continue
        free = (
            (taken[:, 0] > high[0])
            | (taken[:, 2] < low[0])
            | (taken[:, 1] > high[1])
            | (taken[:, 3] < low[1])
        )
        if free.all():
            here = float(move[0]), float(move[1])
            if not lines.intersects(shapely.box(*low, *high)):
                return here
            second = second or here
    return second

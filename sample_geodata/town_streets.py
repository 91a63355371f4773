"""Streets, creek and anchors of Quillwater: drawn by hand as control points, then rounded off.

Local coordinates in metres, u to the east (0-700) and v to the north (0-900); everything is invented.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline
from shapely import LineString, Polygon, box

WIDTH_M, HEIGHT_M = 700.0, 900.0
EXTENT = box(0.0, 0.0, WIDTH_M, HEIGHT_M)


@dataclass(frozen=True, slots=True)
class Street:
    """A street: its name, kind (main, street, lane), right of way and pavement [m], heavy traffic."""

    name: str
    kind: str
    row_m: float
    paved_m: float
    busy: bool
    line: LineString


def curve(points: list[tuple[float, float]], step_m: float = 4.0) -> LineString:
    """Return a smooth line through control points, a vertex about every ``step_m``."""
    xy = np.asarray(points, float)
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T))]
    spline = CubicSpline(along, xy)
    at = np.linspace(0.0, along[-1], max(3, int(along[-1] / step_m)))
    return LineString(spline(at).round(2))


STREETS = [
    ("Ferry Road", "main", [(-30, 628), (110, 590), (280, 545), (430, 520), (560, 478), (730, 448)]),
    (
        "Heron Street",
        "street",
        [(118, 58), (92, 180), (70, 300), (88, 430), (112, 590), (96, 700), (126, 800)],
    ),
    (
        "Mill Street",
        "street",
        [(262, 96), (246, 200), (262, 318), (286, 430), (280, 545), (262, 680), (306, 782)],
    ),
    (
        "Alder Walk",
        "street",
        [(432, 92), (408, 190), (436, 310), (418, 420), (430, 520), (474, 620), (452, 700), (472, 796)],
    ),
    ("Lower Row", "lane", [(112, 92), (180, 104), (262, 96), (350, 78), (432, 92)]),
    ("Plum Street", "street", [(88, 200), (160, 216), (246, 200), (330, 186), (408, 190)]),
    ("Orchard Street", "street", [(70, 312), (160, 326), (262, 318), (350, 322), (436, 310)]),
    ("Chapel Row", "street", [(89, 432), (180, 446), (286, 430), (360, 416), (418, 420)]),
    ("North Street", "street", [(97, 694), (180, 672), (262, 680), (360, 696), (452, 700)]),
    ("Wood End", "lane", [(126, 800), (210, 778), (306, 782), (390, 806), (472, 796)]),
    ("Fen Road", "street", [(628, 465), (646, 540), (626, 620), (632, 700), (656, 790)]),
    ("Tinker Close", "lane", [(436, 310), (478, 322), (500, 352)]),
]
"""Name, kind and control points."""

ROW_M = {"main": 17.0, "street": 13.0, "lane": 10.5}
PAVED_M = {"main": 9.5, "street": 6.8, "lane": 5.2}


def streets() -> list[Street]:
    """Return the streets of the town."""
    return [Street(n, k, ROW_M[k], PAVED_M[k], k == "main", curve(p)) for n, k, p in STREETS]


def creek() -> LineString:
    """Return the centre line of Quill Creek, from north to south."""
    return curve(
        [
            (622, 930),
            (560, 830),
            (590, 720),
            (548, 640),
            (566, 560),
            (528, 486),
            (560, 400),
            (524, 320),
            (548, 236),
            (500, 150),
            (528, 70),
            (496, -30),
        ]
    )


def creek_water() -> Polygon:
    """Return the water surface: wider in the bends of the lower reach."""
    line = creek()
    at = np.arange(0.0, line.length, 6.0)
    widths = 3.2 + 1.8 * at / line.length + 0.8 * np.sin(at / 31.0)
    discs = [line.interpolate(s).buffer(w, quad_segs=6) for s, w in zip(at, widths, strict=True)]
    hulls = [a.union(b).convex_hull for a, b in itertools.pairwise(discs)]
    water = hulls[0]
    for hull in hulls[1:]:
        water = water.union(hull)
    return water.intersection(EXTENT).simplify(0.2)


def _blob(points: list[tuple[float, float]]) -> Polygon:
    return Polygon(curve([*points, points[0]], 7.0).coords[:-1]).buffer(0).intersection(EXTENT)


BREEDING = {
    "Ferry Meadow": "monarch; black swallowtail; pearl crescent; zabulon skipper; great spangled fritillary",
    "Quill Fen": "Baltimore checkerspot; monarch; black swallowtail; pearl crescent; falcate orangetip",
}
"""Which butterflies breed in the anchors, as a walking group noted; the wood edge it has yet to see."""


def anchors() -> list[tuple[str, float, Polygon]]:
    """Return existing habitat as (name, host share, shape): a wood edge, a meadow, a fen beside the creek."""
    away = creek_water().buffer(3.0)
    wood = _blob(
        [(40, 862), (120, 846), (210, 838), (300, 850), (392, 872), (400, 897), (220, 896), (60, 897)]
    )
    meadow = _blob(
        [(14, 20), (78, 8), (190, 8), (296, 12), (318, 34), (240, 46), (160, 50), (84, 30), (30, 52)]
    )
    fen = _blob(
        [
            (566, 96),
            (610, 80),
            (668, 108),
            (688, 190),
            (670, 276),
            (622, 318),
            (582, 300),
            (592, 230),
            (560, 160),
        ]
    )
    return [
        ("Heronry Wood edge", 0.01, wood.difference(away)),
        ("Ferry Meadow", 0.02, meadow.difference(away)),
        ("Quill Fen", 0.015, fen.difference(away)),
    ]

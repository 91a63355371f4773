"""What stands on the lots: houses square to the street, sheds, drives, walks, patios, fences, trees."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon
from town_lots import Lot
from town_streets import EXTENT, anchors, creek, creek_water


@dataclass(slots=True)
class Built:
    """Features of all lots; every list holds dicts ready for a layer."""

    buildings: list[dict] = field(default_factory=list)
    paving: list[dict] = field(default_factory=list)
    fences: list[dict] = field(default_factory=list)
    laterals: list[dict] = field(default_factory=list)
    septic: list[dict] = field(default_factory=list)
    trees: list[dict] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Frame:
    """Axes of a lot: origin at the middle of its frontage, ``t`` along the street, ``n`` into the lot."""

    origin: NDArray[np.float64]
    t: NDArray[np.float64]
    n: NDArray[np.float64]
    width_m: float
    depth_m: float

    def box(self, along0: float, along1: float, in0: float, in1: float) -> Polygon:
        """Return a rectangle given along the street and into the lot [m]."""
        corners = [(along0, in0), (along1, in0), (along1, in1), (along0, in1)]
        return Polygon([self.origin + a * self.t + d * self.n for a, d in corners])

    def point(self, along: float, inward: float) -> Point:
        """Return a point given along the street and into the lot [m]."""
        return Point(self.origin + along * self.t + inward * self.n)


def frame(lot: Lot) -> Frame:
    """Return the axes of a lot."""
    line = lot.frontage
    a, b = np.array(line.coords[0]), np.array(line.coords[-1])
    t = (b - a) / np.linalg.norm(b - a)
    n = np.array([-t[1], t[0]])
    middle = shapely.get_coordinates(line.interpolate(0.5, normalized=True))[0]
    if (shapely.get_coordinates(lot.shape.centroid)[0] - middle) @ n < 0:
        n = -n
    depth = (shapely.get_coordinates(lot.shape) - middle) @ n
    return Frame(middle, t, n, float(np.linalg.norm(b - a)), float(depth.max()))


def build(lots: list[Lot], rng: np.random.Generator) -> Built:
    """Return everything that stands on the lots; about one lot in thirty is empty."""
    built = Built()
    for index, lot in enumerate(lots):
        if rng.random() < 0.03:
            _garden_trees(built, lot, shapely.Polygon(), rng)
            continue
        axes = frame(lot)
        house, paved = _house(built, lot, axes, rng)
        _garden_trees(built, lot, shapely.union_all([house, paved]), rng)
        if rng.random() < 0.45:
            _fence(built, lot, axes)
        if index % 29 == 3:
            _septic(built, lot, axes, house)
    return built


def _house(built: Built, lot: Lot, axes: Frame, rng: np.random.Generator) -> tuple[Polygon, Polygon]:
    side = 1 if rng.random() < 0.5 else -1
    wide = min(rng.uniform(9.0, 14.5), axes.width_m - 8.0)
    deep, back = rng.uniform(8.0, 11.0), rng.uniform(5.5, 9.5)
    shift = -side * rng.uniform(0.8, max(1.0, (axes.width_m - wide) / 2 - 2.0))
    inside = lot.shape.buffer(-1.4)
    house = axes.box(shift - wide / 2, shift + wide / 2, back, back + deep)
    if rng.random() < 0.45:
        wing = rng.uniform(4.0, 5.5)
        a0 = shift - side * wide / 2
        house = house.union(
            axes.box(*sorted((a0, a0 + side * wing)), back, back + deep + rng.uniform(3.0, 5.0))
        )
    house = _largest(house.intersection(inside))
    built.buildings.append(
        {"kind": "house", "height_m": round(rng.choice([4.6, 5.2, 7.2, 7.8, 8.6]), 1), "geometry": house}
    )
    edge = shift + side * (wide / 2 + 1.0)
    drive = axes.box(*sorted((edge, edge + side * 3.0)), -0.5, back + deep * rng.uniform(0.6, 1.3))
    walk = axes.box(*sorted((edge, shift)), back - 2.2, back - 1.0).union(
        axes.box(shift - 0.6, shift + 0.6, back - 2.2, back)
    )
    patio = axes.box(
        shift - rng.uniform(2.0, 3.5),
        shift + rng.uniform(1.0, 3.5),
        back + deep,
        back + deep + rng.uniform(3, 4),
    )
    parts = [("drive", drive), ("walk", walk)] + ([("patio", patio)] if rng.random() < 0.6 else [])
    paved = shapely.Polygon()
    for kind, shape in parts:
        piece = _largest(shape.intersection(lot.shape).difference(house).difference(paved))
        if piece.area > 1:
            built.paving.append({"kind": kind, "geometry": piece})
            paved = paved.union(piece)
    _shed(built, axes, inside, side, house, rng)
    foot = shapely.get_coordinates(house.centroid)[0]
    start = axes.point(-side * axes.width_m * 0.3, -4.0)
    built.laterals.append(
        {"kind": "water and sewer lateral", "geometry": LineString([start, Point(foot)]).difference(house)}
    )
    return house, paved


def _shed(
    built: Built, axes: Frame, inside: Polygon, side: int, house: Polygon, rng: np.random.Generator
) -> None:
    if rng.random() > 0.55:
        return
    a = side * (axes.width_m / 2 - rng.uniform(6.5, 8.0))
    d = axes.depth_m - rng.uniform(7.0, 11.0)
    size = rng.uniform(2.6, 5.4)
    shed = axes.box(*sorted((a, a + side * size)), d, d + rng.uniform(2.6, 5.0)).intersection(inside)
    shed = _largest(shed)
    if shed.area > 5 and shed.distance(house) > 3:
        built.buildings.append({"kind": "shed", "height_m": 2.9, "geometry": shed})


def _fence(built: Built, lot: Lot, axes: Frame) -> None:
    ring = lot.shape.exterior
    away = LineString(lot.frontage).buffer(0.45 * axes.depth_m)
    line = shapely.line_merge(ring.difference(away))
    line = max(shapely.get_parts(line).tolist(), key=lambda p: p.length)
    built.fences.append({"kind": "garden fence", "height_m": 1.5, "geometry": line})


def _septic(built: Built, lot: Lot, axes: Frame, house: Polygon) -> None:
    field_ = axes.box(-5.0, 4.0, axes.depth_m * 0.62, axes.depth_m * 0.62 + 6.0)
    field_ = field_.intersection(lot.shape.buffer(-2)).difference(house.buffer(4))
    if field_.area > 20:
        built.septic.append({"kind": "drain field", "geometry": _largest(field_)})


def _garden_trees(built: Built, lot: Lot, taken: Polygon, rng: np.random.Generator) -> None:
    ground = lot.shape.buffer(-1.5).difference(taken.buffer(2.2))
    for _ in range(rng.poisson(lot.shape.area / 520.0)):
        point = _random_point(ground, rng)
        if point is not None:
            built.trees.append(_tree(point, rng, evergreen_share=0.22))


def _tree(point: Point, rng: np.random.Generator, *, evergreen_share: float) -> dict:
    evergreen = bool(rng.random() < evergreen_share)
    height = float(np.clip(rng.lognormal(2.25, 0.45), 3.5, 24.0))
    crown = height * (rng.uniform(0.28, 0.45) if evergreen else rng.uniform(0.5, 0.8))
    return {
        "height_m": round(height, 1),
        "crown_m": round(crown, 1),
        "evergreen": evergreen,
        "geometry": point,
    }


def wild_trees(rng: np.random.Generator) -> list[dict]:
    """Return trees of the wood edge, along the creek and in the fen's edge."""
    shapes = {name: shape for name, _, shape in anchors()}
    places = [
        (shapes["Heronry Wood edge"], 190, 0.08),
        (creek().buffer(20).difference(creek_water().buffer(2)).intersection(EXTENT), 120, 0.05),
        (shapes["Quill Fen"].boundary.buffer(5), 22, 0.0),
        (shapes["Ferry Meadow"], 7, 0.6),
    ]
    trees = []
    for ground, count, share in places:
        for _ in range(count):
            point = _random_point(ground.intersection(EXTENT), rng)
            if point is not None:
                trees.append(_tree(point, rng, evergreen_share=share))
    return trees


def _random_point(ground: Polygon, rng: np.random.Generator) -> Point | None:
    if ground.is_empty:
        return None
    west, south, east, north = ground.bounds
    for _ in range(200):
        point = Point(round(rng.uniform(west, east), 2), round(rng.uniform(south, north), 2))
        if ground.contains(point):
            return point
    return None


def _largest(shape: Polygon) -> Polygon:
    parts = [p for p in shapely.get_parts(shape).tolist() if p.geom_type == "Polygon"]
    return max(parts, key=lambda p: p.area, default=Polygon())

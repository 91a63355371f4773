"""Plant spacing and packing against published figures.

Sources: nursery spacing charts (plants per square foot at a spacing in inches: formula 144 / s^2 square,
that over sqrt(3)/2 triangular; ``plant_spacing.csv`` is worked out by the formula, since some charts
print misprints such as 2.28 for 8 in; its last column is rounded as charts print it, from memory);
densest packing of discs pi / sqrt(12) (Thue; Fejes Toth); H. Groemer, Math. Z. 73 (1960) 285-294 and N.
Oler, Acta Math. 105 (1961) 19-48: a convex bed holds at most 2A / (sqrt(3) s^2) + P / (2 s) + 1 plants;
best spacing of n points in a unit square: J. Schaer and A. Meir, Canad. Math. Bull. 8 (1965) and others,
from memory, found again by optimisation to 1e-6.
"""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon, box
from shapely.affinity import rotate, scale

from habitat.planting.drawing.lattice import count_plants, fit_lattice, pack, row_shape

FOOT_M, INCH_M = 0.3048, 0.0254
TABLE = list(csv.DictReader((Path(__file__).parent / "plant_spacing.csv").open(encoding="utf-8")))
UNIT_SQUARE = {
    2: 1.414214, 3: 1.035276, 4: 1.0, 5: 0.707107, 6: 0.600925, 7: 0.535898, 8: 0.517638, 9: 0.5,
}  # fmt: skip


def convex_cap(area_m2, outline_m, spacing_m):
    """Return the most plants that any planting of a convex bed can hold (Groemer 1960, Oler 1961)."""
    s = spacing_m
    return math.floor(2 * area_m2 / (math.sqrt(3) * s * s) + outline_m / (2 * s) + 1 + 1e-9)


@pytest.mark.parametrize("row", TABLE, ids=lambda r: r["spacing_in"])
@pytest.mark.parametrize("kind", ["square", "triangular"])
def test_ground_per_plant_is_the_charts(row, kind):
    spacing = float(row["spacing_in"]) * INCH_M
    gap, shift = row_shape(kind, spacing)
    per_m2 = 1.0 / (gap * spacing)
    assert per_m2 == pytest.approx(float(row[f"{kind}_plants_per_m2"]), abs=6e-5)
    assert per_m2 * FOOT_M**2 == pytest.approx(float(row[f"{kind}_plants_per_ft2"]), abs=6e-5)
    if kind == "triangular":
        assert gap / INCH_M == pytest.approx(float(row["triangular_row_offset_in"]), abs=6e-5)
        assert shift == pytest.approx(spacing / 2)
        printed = row["triangular_trade_chart_rounded_from_memory"]
        if printed:
            assert per_m2 * FOOT_M**2 == pytest.approx(float(printed), abs=0.0101)  # charts round or cut


def test_a_wide_bed_reaches_the_density_of_disc_packing():
    """In a bed of 60 x 60 spacings the share covered by discs nears pi / sqrt(12) = 0.9069 from below."""
    count = fit_lattice(box(0, 0, 60, 60), 1.0).count
    wide = count * math.pi / 4 / 61**2
    assert wide == pytest.approx(math.pi / math.sqrt(12), abs=0.02)
    assert count <= convex_cap(3600, 240, 1.0)


@pytest.mark.parametrize("n", [1, 2, 3, 5, 9])
def test_cap_is_reached_by_triangles(n):
    corners = np.array([[0, 0], [n, 0], [n / 2, n * math.sqrt(3) / 2]]) * 0.7
    triangle = Polygon(corners)
    assert convex_cap(triangle.area, triangle.length, 0.7) == (n + 1) * (n + 2) // 2
    assert fit_lattice(triangle, 0.7).count == (n + 1) * (n + 2) // 2


@pytest.mark.parametrize(
    ("width", "height", "spacing", "square", "triangular"),
    [(10, 10, 1, 121, 126), (10, 10, 1.5, 49, 56), (4, 3, 0.5, 63, 60), (20, 5, 1, 126, 123)],
)
def test_small_beds_with_plants_on_the_edge(width, height, spacing, square, triangular):
    """The counts of rows along the first side; the best of both, and the other way, may only hold more."""
    bed = box(0, 0, width, height)
    count = fit_lattice(bed, spacing).count
    assert count >= max(square, triangular)
    assert count <= convex_cap(bed.area, bed.length, spacing)


@pytest.mark.parametrize("n", sorted(UNIT_SQUARE))
def test_no_more_plants_than_the_best_known_spacing_allows(n):
    square = box(0, 0, 1, 1)
    assert len(pack(square, UNIT_SQUARE[n] * 1.0005)) < n
    if n in (2, 4, 5, 9):
        assert len(pack(square, UNIT_SQUARE[n] * 0.9995)) == n


@pytest.mark.parametrize("seed", range(12))
def test_convex_beds_lie_between_floor_and_cap(seed):
    """Floor A / (pi s^2): if no plant can be added, discs of radius s around the plants cover the bed."""
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0, 2 * math.pi, 7))
    bed = Polygon(np.column_stack([np.cos(turns), np.sin(turns)])).convex_hull
    bed = rotate(scale(bed, *rng.uniform(1, 4, 2)), rng.uniform(0, 180))
    for spacing in (0.2, 0.45, 0.9):
        count = int(count_plants(bed, np.array([spacing]))[0])
        assert math.floor(bed.area / (math.pi * spacing**2)) <= count
        assert count <= convex_cap(bed.area, bed.length, spacing)

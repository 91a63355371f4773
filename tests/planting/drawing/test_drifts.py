"""Drifts in a bed: tall kinds on the shady side, drifts in one piece, beds no longer than they must be."""

import numpy as np
import pytest
import shapely
from scipy.sparse.csgraph import connected_components
from shapely import box
from shapely.affinity import rotate

from habitat.planting.drawing.drifts import Drift, _cut_edges, arrange, frame_of
from habitat.planting.drawing.lattice import pack, region_edges
from habitat.planting.types import Allocation, Choice
from tests.support.yards import KNOWLEDGE, PLANTS, random_choice, random_yard, scene

HERBS = [(6, 0.6, 1.6), (8, 0.45, 0.9), (12, 0.3, 0.4)]


def lay(bed, latitude=40.0, along=(1.0, 0.0), back=(0.0, 0.0), herbs=HERBS):
    inner = bed.buffer(-0.1, join_style="mitre")
    drifts = [Drift(n, spacing, height, inner) for n, spacing, height in herbs]
    frame, layered = frame_of(bed, along, back, latitude)
    return arrange(bed, drifts, frame, layered=layered)


@pytest.mark.parametrize(("latitude", "sign"), [(40.0, 1), (-35.0, -1)])
@pytest.mark.parametrize("turn", [0, 90, 20, 70])
def test_tall_kinds_stand_on_the_shady_side(latitude, sign, turn):
    """North of the low ones where the sun stands in the south at noon, south of them in the south."""
    bed = rotate(box(0, 0, 6, 1.8), turn, origin=(0, 0))
    along = (float(np.cos(np.radians(turn))), float(np.sin(np.radians(turn))))
    _, points = lay(bed, latitude, along)
    tall, _, low = (p[:, 1].mean() * sign for p in points)
    assert tall > low + 0.2


def test_tall_kinds_stand_back_from_the_lawn_where_the_sun_does_not_decide():
    """In a bed along a north fence the tall ones stand at the fence."""
    _, points = lay(box(0, 0, 6, 1.8), back=(0.0, 1.0))
    assert points[0][:, 1].mean() > points[2][:, 1].mean()


@pytest.mark.parametrize(("turn", "layered"), [(20, True), (15, False), (105, True), (110, False)])
def test_a_wall_counts_half_as_much_as_the_sun(turn, layered):
    """With a wall in the east the tall side lies at 63.4 degrees (1 north, 1/2 east)."""
    across = np.radians(turn)
    along = (float(np.sin(across)), -float(np.cos(across)))
    assert frame_of(box(0, 0, 6, 1.8), along, (1.0, 0.0), 40.0)[1] is layered


def test_drifts_are_in_one_piece():
    """In random yards most drifts have four fifths of their plants within two spacings of each other."""
    whole = []
    for seed in range(8):
        one = scene(*random_yard(seed))
        sites = one.sites()
        drawn = one.draw(random_choice(sites, seed, fill=0.8), sites)
        for _, rows in drawn.points.groupby("planting_id"):
            xy = shapely.get_coordinates(rows.geometry.to_numpy())
            near = np.linalg.norm(xy[:, None] - xy[None], axis=2)
            spacing = KNOWLEDGE.plants.loc[rows["plant"].iloc[0], "spacing_m"]
            _, label = connected_components(near <= 2 * spacing)
            if len(rows) >= 3:
                whole.append(np.bincount(label).max() >= 0.8 * len(rows))
    assert len(whole) > 50
    assert np.mean(whole) >= 0.85


def test_a_bed_is_no_longer_than_it_must_be():
    """Twelve plants at 0.3 m need about 1 m2, not the ten metres that the site would give."""
    bed, points = lay(box(0, 0, 10, 1.8), herbs=[(12, 0.3, 0.4)])
    assert len(points[0]) == 12
    west, south, east, north = bed.bounds
    assert min(east - west, north - south) >= 1.2 - 1e-6
    assert bed.area <= 3.0


def test_what_does_not_fit_is_left_out_and_told():
    one = scene(box(500_000, 4_400_000, 500_020, 4_400_030), None)
    sites = one.sites()
    plant = "Asclepias syriaca"
    most = int(sites[0].capacity[PLANTS.index(plant)])
    allocation = Allocation(sites[0].site_id, plant, "pot", most + 40, 100.0, "host", (), "")
    drawn = one.draw(Choice("Y1", (allocation,), 0, 0, {}, (), 100.0), sites)
    assert len(drawn.points) <= most + 1
    assert drawn.plantings["count"].iloc[0] == len(drawn.points)
    assert drawn.plantings["cost"].iloc[0] == pytest.approx(100.0 * len(drawn.points) / (most + 40))
    assert len(drawn.dropped) == 1
    assert f"{most + 40} chosen" in drawn.dropped[0]


@pytest.mark.parametrize("split", [1, 10, 23])
def test_kinds_of_one_spacing_fill_a_bed_as_one_kind_does(split):
    """On one lattice between them: an asters' bed with some milkweed in it holds as many plants in all."""
    bed = box(0, 0, 6, 1.8)
    most = len(pack(bed.buffer(-0.1, join_style="mitre"), 0.6))
    _, (tall, low) = lay(bed, herbs=[(split, 0.6, 1.6), (most - split, 0.6, 0.9)])
    assert (len(tall), len(low)) == (split, most - split)
    points = np.vstack([tall, low])
    gaps = np.linalg.norm(points[:, None] - points[None], axis=2) + np.eye(most)
    assert gaps.min() >= 0.6 - 1e-4


def test_a_full_bed_keeps_what_stands_in_it_and_its_spacing():
    bed = box(0, 0, 6, 1.8)
    inner = bed.buffer(-0.1, join_style="mitre")
    shrub = Drift(1, 2.0, 3.0, inner, np.array([[5.0, 0.9]]))
    herbs = [Drift(20, 0.6, 1.2, inner), Drift(30, 0.4, 0.5, inner)]
    frame, layered = frame_of(bed, (1.0, 0.0), (0.0, 0.0), 40.0)
    _, points = arrange(bed, [shrub, *herbs], frame, layered=layered)
    assert points[0] == pytest.approx(np.array([[5.0, 0.9]]))
    reach = np.repeat([1.0, 0.3, 0.2], [len(p) for p in points])
    xy = np.vstack(points)
    gaps = np.linalg.norm(xy[:, None] - xy[None], axis=2) + 9 * np.eye(len(xy))
    assert (gaps >= reach[:, None] + reach[None] - 1e-4).all()
    assert len(points[1]) + len(points[2]) < 50  # more than there is room for
    assert len(points[1]) >= 15


@pytest.mark.parametrize(("cut", "left_m2"), [(1.0, 2.0), (2.5, 5.0), (4.0, 8.0), (9.0, 8.0)])
def test_a_region_cut_straight_is_closed_along_the_cut(cut, left_m2):
    """A rectangle of 4 x 2 m, cut across: what is left is ``cut`` long."""
    edges = _cut_edges(region_edges(box(0, 0, 4, 2)), cut)
    lines = shapely.linestrings(edges.reshape(-1, 2, 2))
    assert shapely.polygonize(lines).area == pytest.approx(left_m2)


def test_no_drift_no_bed():
    bed, points = arrange(
        box(0, 0, 4, 1.8),
        [Drift(3, 0.5, 1.0, shapely.Polygon())],
        frame_of(box(0, 0, 4, 1.8), (1, 0), (0, 0), 40.0)[0],
        layered=True,
    )
    assert bed.is_empty
    assert len(points[0]) == 0


def test_a_full_bed_of_one_kind_holds_nine_tenths_of_its_packing():
    bed = box(0, 0, 6, 1.8)
    for spacing in (0.3, 0.45, 0.6, 0.9):
        most = len(pack(bed.buffer(-0.1, join_style="mitre"), spacing))
        _, points = lay(bed, herbs=[(most, spacing, 0.5)])
        assert len(points[0]) >= 0.9 * most

"""Open ground and its reasons: hand-drawn yards, limits, and real parcels."""

import geopandas as gpd
import momepy
import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from habitat.errors import ParameterError
from habitat.ground.open_ground import open_and_closed, open_mask
from habitat.ground.setbacks import DEFAULTS, FORMS
from habitat.settings.site import SiteSettings
from tests.support.remarks import said
from tests.support.small_layers import SOUTH, WEST, Small, frame_of, square_yards, yards_of

ZERO = {"site": {"setbacks": {"all.all": 0.0}}}


def at(*coordinates):
    return [(WEST + x, SOUTH + y) for x, y in coordinates]


def square(x0, y0, x1, y1):
    return box(WEST + x0, SOUTH + y0, WEST + x1, SOUTH + y1)


def ground_of(sections=None, yards=None, rasters=None, **vectors):
    made = Small(square_yards(2, 20.0) if yards is None else yards, vectors=vectors, rasters=rasters or {})
    made.sections = sections or {}
    return made.ground(), made


def areas(ground, form="herb"):
    rows = ground.open_ground[ground.open_ground["growth_form"] == form]
    return rows["open_m2"].tolist()


HOUSE = [square(5, 5, 15, 15)]


def test_a_yard_less_its_house():
    ground, _ = ground_of(ZERO, buildings=frame_of(HOUSE))
    for form in FORMS:
        assert areas(ground, form) == pytest.approx([300, 400])
    assert ground.closed_ground["reason"].tolist() == ["wall of a building"]
    assert ground.closed_ground["growth_form"].tolist() == ["all"]
    assert ground.closed_ground.geometry.iloc[0].equals(HOUSE[0])


def test_setbacks_by_growth_form():
    """Round corners: a square of 10 m widened by d takes 100 + 40 d + pi d^2 (eight segments a quarter)."""
    only = {"site": {"setbacks": {"all.all": 0.0, "building.shrub": 1.0, "building.tree": 3.0}}}
    ground, _ = ground_of(only, buildings=frame_of(HOUSE))
    assert areas(ground, "herb") == pytest.approx([300, 400])
    assert areas(ground, "shrub")[0] == pytest.approx(400 - 140 - np.pi, abs=0.03)
    assert areas(ground, "tree")[0] == pytest.approx(400 - 220 - 9 * np.pi, abs=0.2)
    closed = ground.closed_ground
    assert closed["growth_form"].tolist() == ["herb", "shrub", "tree"]
    assert closed["setback_m"].tolist() == [0, 1, 3]


def test_boundaries_take_a_strip_with_square_corners():
    only = {"site": {"setbacks": {"all.all": 0.0, "boundary.all": 2.0}}}
    ground, _ = ground_of(only, buildings=frame_of([square(90, 90, 91, 91)]))
    assert areas(ground) == pytest.approx([256, 256])
    assert set(ground.closed_ground["reason"]) == {"edge of the yard"}


def test_every_kind_of_thing_closes_ground_with_its_reason():
    line = [LineString(at((2, 0), (2, 20)))]
    things = {
        "buildings": frame_of(HOUSE),
        "paving": frame_of([square(0, 0, 2, 20)]),
        "water": frame_of([square(18, 0, 20, 3)]),
        "trees": frame_of([Point(*at((4, 18))[0])], crown_m=[6.0]),
        "plants": frame_of([Point(*at((17, 17))[0])], crown_m=[1.0]),
        "fences": frame_of([LineString(at((0, 20), (20, 20)))]),
        "wires": frame_of(line),
        "buried": frame_of(line),
        "septic": frame_of([square(16, 5, 19, 9)]),
        "downspouts": frame_of([Point(*at((15, 14))[0])]),
        "keep": frame_of([square(6, 16, 8, 18)]),
        "lawn": frame_of([square(9, 15, 12, 18)]),
        "told": frame_of([square(13, 15, 15, 18)]),
        "streets": frame_of([LineString(at((-50, -1), (50, -1)))], width_m=[4.0], busy=["yes"]),
    }
    ground, _ = ground_of(None, **things)
    first = ground.closed_ground[ground.closed_ground["yard_id"] == "y0"]
    reasons = {s.what: s.reason for s in DEFAULTS}
    expected = set(reasons.values()) - {reasons["street"]}
    assert set(first["reason"]) == expected
    wires = first[first["reason"] == reasons["wires"]]
    assert wires["growth_form"].tolist() == ["tree"]
    assert "call the line's owner" in wires["caution"].iloc[0]
    assert set(first.loc[first["reason"] == reasons["septic"], "growth_form"]) == {"shrub", "tree"}
    marked = first[first["reason"] == reasons["buried"]]
    assert "locat" in marked["caution"].iloc[0]
    for form in FORMS:
        yard = square(0, 0, 20, 20)
        closed = first[first["growth_form"].isin(["all", form])].union_all()
        rest = yard.difference(closed).area
        assert areas(ground, form)[0] == pytest.approx(rest, rel=1e-4)
    assert areas(ground, "herb")[0] > areas(ground, "shrub")[0] > areas(ground, "tree")[0]


def test_a_septic_field_that_nobody_drew_keeps_woody_plants_out():
    yards = square_yards(2, 20.0, septic=[True, False])
    house = frame_of([square(90, 90, 91, 91)])
    ground, _ = ground_of(ZERO, yards, buildings=house)
    assert areas(ground, "herb") == pytest.approx([400, 400])
    assert areas(ground, "tree") == pytest.approx([0, 400])
    assert ground.open_ground.geometry.is_empty.sum() == 2
    drawn, _ = ground_of(ZERO, yards, buildings=house, septic=frame_of([square(1, 1, 3, 3)]))
    assert areas(drawn, "tree") == pytest.approx([400, 400])


def test_without_buildings_nothing_is_placeable():
    ground, _ = ground_of(ZERO)
    assert not ground.placeable
    assert any("nothing is placed" in said(n) for n in ground.notes)
    assert ground_of(ZERO, buildings=frame_of(HOUSE))[0].placeable


def test_yards_with_holes_parts_and_overlaps():
    ring = Polygon(at((0, 0), (20, 0), (20, 20), (0, 20)), [at((5, 5), (10, 5), (10, 10), (5, 10))])
    pair = shapely.MultiPolygon([square(30, 0, 40, 10), square(45, 0, 50, 10)])
    over = square(15, 0, 35, 20)
    ground, _ = ground_of(ZERO, yards_of([ring, pair, over]), buildings=frame_of([square(32, 2, 34, 4)]))
    assert areas(ground) == pytest.approx([375, 146, 396])


def test_wires_keep_trees_small_and_busy_roads_keep_hosts_away():
    wires = frame_of([LineString(at((0, 10), (40, 10)))])
    road = frame_of([LineString(at((-50, -3), (50, -3)))], width_m=[6.0], kind=["main"])
    yards = square_yards(2, 20.0, sprayed=[False, True])
    ground, _ = ground_of(None, yards, buildings=frame_of(HOUSE), wires=wires, streets=road)
    around = ground.height_limits[ground.height_limits["reason"] == "overhead wires"]
    assert around.area.tolist() == pytest.approx([400, 400])
    assert set(around["height_max_m"]) == {7.5}
    hosts = ground.host_limits.set_index(["yard_id", "reason"]).area
    assert hosts["y1", "sprayed yard"] == pytest.approx(400)
    assert hosts["y0", "edge of a busy road"] == pytest.approx(200)


@pytest.fixture(scope="module")
def prague():
    """Momepy's bundled parcels and buildings (BSD-3 package), in UTM 33N."""
    path = momepy.datasets.get_path("bubenec")
    plots = gpd.read_file(path, layer="plots").to_crs(32633)
    buildings = gpd.read_file(path, layer="buildings").to_crs(32633)
    ids = [f"P{i:03d}" for i in range(len(plots))]
    yards = plots.assign(yard_id=ids, role="member", publish=False, area_m2=plots.area)
    made = Small(yards, vectors={"buildings": buildings}, sections=ZERO)
    return made.ground(), made


def test_prague_parcels_less_buildings(prague):
    """235,612 m2 within 5 with every setback 0 (catalogue I), and shapely's own areas."""
    ground, made = prague
    assert sum(areas(ground)) == pytest.approx(235_612, abs=5)
    roofs = made.vectors["buildings"].union_all()
    plain = made.yards.geometry.difference(roofs).area
    assert np.allclose(areas(ground), plain, rtol=1e-4, atol=1e-6)


def test_prague_raster_form_within_half_a_percent(prague):
    ground, made = prague
    mask = open_mask(ground.open_ground, "herb", made.grid)
    union = ground.open_ground[ground.open_ground["growth_form"] == "herb"].union_all().area
    assert mask.sum() * made.grid.cell_m**2 == pytest.approx(union, rel=0.005)


def test_prague_closed_pieces_and_open_ground_fill_the_yards(prague):
    ground, made = prague
    closed = ground.closed_ground.area.groupby(ground.closed_ground["yard_id"]).sum()
    herbs = ground.open_ground[ground.open_ground["growth_form"] == "herb"].set_index("yard_id")["open_m2"]
    whole = herbs.add(closed, fill_value=0)
    assert np.allclose(whole.reindex(made.yards["yard_id"]), made.yards["area_m2"], atol=1e-5)


def test_names_that_no_setback_reads_are_refused():
    with pytest.raises(ParameterError, match="houses"):
        open_and_closed(square_yards(1), {"houses": frame_of(HOUSE)})


def test_plain_frames_are_enough_and_stay_as_they_were():
    yards, house = square_yards(2, 20.0)[["yard_id", "geometry"]], frame_of(HOUSE)
    before = yards.copy(), house.copy()
    ground = open_and_closed(yards, {"buildings": house}, SiteSettings(setbacks={"all.all": 0.0}))
    assert areas(ground) == pytest.approx([300, 400])
    assert ground.host_limits.empty
    assert yards.equals(before[0])
    assert house.equals(before[1])

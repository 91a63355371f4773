"""Open ground and its reasons: hand-drawn yards, the setback table, limits, and Prague's parcels."""

import geopandas as gpd
import momepy
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from habitat.errors import ParameterError
from habitat.ground.open_ground import open_mask
from habitat.ground.setbacks import DEFAULTS, FORMS, LIMITS, limits, setbacks
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
        "keep": frame_of([square(6, 16, 8, 18)]),
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


def test_a_plant_without_a_crown_takes_a_clump_each():
    only = {"site": {"setbacks": {"all.all": 0.0}}}
    ground, _ = ground_of(
        only,
        buildings=frame_of([square(90, 90, 91, 91)]),
        plants=frame_of([Point(*at((10, 10))[0])], count=[4]),
    )
    assert 400 - areas(ground)[0] == pytest.approx(4 * np.pi * 0.15**2, rel=0.01)


def test_steep_ground_is_closed_by_the_terrain():
    """A bank of 45 degrees across five metres of the yard."""

    def bank(x, y):
        return np.clip(x - WEST - 8, 0, 5)

    ground, _ = ground_of(ZERO, buildings=frame_of([square(90, 90, 91, 91)]), rasters={"terrain_m": bank})
    steep = ground.closed_ground[ground.closed_ground["reason"] == "steep ground"]
    assert steep["growth_form"].tolist() == ["all"]
    assert 80 <= steep.area.sum() <= 140
    gentle = {"site": {"setbacks": {"all.all": 0.0}, "steep_deg": 50.0}}
    ground, _ = ground_of(gentle, buildings=frame_of([square(90, 90, 91, 91)]), rasters={"terrain_m": bank})
    assert areas(ground) == pytest.approx([400, 400])


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


# The table -------------------------------------------------------------------------------------------------


def test_every_default_names_its_source():
    for one in (*DEFAULTS, *LIMITS):
        assert any(word in one.source for word in ("common practice", "practice table", "judgement")), one
    assert all(list(s.distances_m) == sorted(s.distances_m) for s in DEFAULTS)


def test_practice_values_are_the_practice_table_s():
    from importlib.resources import files

    practice = pd.read_csv(str(files("habitat.knowledge") / "shared" / "practice.csv")).set_index("id")[
        "value"
    ]
    value = {
        k: float(practice[k]) for k in ("sight_height", "sight_leg", "sight_leg_driveway", "locate_handdig")
    }
    assert limits({})["sight_height"] == value["sight_height"]
    assert limits({})["sight_leg"] == value["sight_leg"]
    assert limits({})["drive_leg"] == value["sight_leg_driveway"]
    assert setbacks({})["buried"].distance_m("herb") == value["locate_handdig"]
    assert setbacks({})["wires"].distance_m("tree") == float(practice["tree_wire_offset_small"])
    assert limits({})["wire_reach"] == float(practice["tree_wire_offset_large"])
    assert setbacks({})["building"].distance_m("tree") == float(practice["tree_foundation_offset"])


def test_the_more_particular_key_wins():
    table = setbacks({"all.all": 0.0, "all.tree": 2.0, "fence.all": 1.0, "fence.herb": 0.5})
    assert table["fence"].distances_m == (0.5, 1.0, 1.0)
    assert table["building"].distances_m == (0.0, 0.0, 2.0)


@pytest.mark.parametrize("key", ["hedge.herb", "building.moss", "building", "sight_leg.herb"])
def test_keys_that_name_nothing_are_refused(key):
    with pytest.raises(ParameterError, match=r"site\.setbacks"):
        ground_of({"site": {"setbacks": {key: 1.0}}}, buildings=frame_of(HOUSE))


# Limits ----------------------------------------------------------------------------------------------------


def test_sight_triangles_at_a_crossing():
    """Streets of 6 m crossing at the corner of four yards: legs of 7.6 m along the edges, 28.88 m2 each."""
    shapes = [square(x, y, x + 20, y + 20) for x in (-23, 3) for y in (-23, 3)]
    streets = frame_of(
        [LineString(at((-60, 0), (60, 0))), LineString(at((0, -60), (0, 60)))], width_m=[6.0, 6.0]
    )
    ground, _ = ground_of(
        None, yards_of(shapes), buildings=frame_of([square(90, 90, 91, 91)]), streets=streets
    )
    limit = ground.height_limits
    assert sorted(limit["yard_id"]) == ["y0", "y1", "y2", "y3"]
    assert limit.area.tolist() == pytest.approx([7.6**2 / 2] * 4, rel=1e-6)
    assert set(limit["height_max_m"]) == {0.76}
    assert limit.geometry.iloc[3].bounds == pytest.approx((WEST + 3, SOUTH + 3, WEST + 10.6, SOUTH + 10.6))
    off, _ = ground_of(ZERO, yards_of(shapes), buildings=frame_of([square(90, 90, 91, 91)]), streets=streets)
    assert off.height_limits.empty


def test_a_junction_has_two_corners_and_a_bend_none():
    from habitat.ground.corners import corner_triangles

    tee = [LineString([(-50, 0), (50, 0)]), LineString([(0, 0), (0, 50)])]
    assert len(corner_triangles(tee, np.array([6.0, 6.0]), 7.6)) == 2
    bend = [LineString([(-50, 0), (0, 0)]), LineString([(0, 0), (0, 50)])]
    assert corner_triangles(bend, np.array([6.0, 6.0]), 7.6) == []
    assert corner_triangles([], np.array([]), 7.6) == []


def test_sight_triangles_beside_a_drive():
    """A drive of 3 m that meets a street's edge: legs of 3 m on either side of it."""
    drive = frame_of([square(8, 3, 11, 18)], kind=["drive"])
    street = frame_of([LineString(at((-50, 0), (50, 0)))], width_m=[6.0])
    yards = yards_of([square(0, 3, 20, 23)])
    ground, _ = ground_of(
        None, yards, buildings=frame_of([square(90, 90, 91, 91)]), paving=drive, streets=street
    )
    beside = ground.height_limits[ground.height_limits["reason"] == "sight triangle beside a drive"]
    assert beside.area.sum() == pytest.approx(2 * 4.5, rel=1e-6)
    assert beside.total_bounds.tolist() == pytest.approx([WEST + 5, SOUTH + 3, WEST + 14, SOUTH + 6])


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


def test_streets_without_a_word_on_traffic_are_told():
    ground, _ = ground_of(
        None,
        buildings=frame_of(HOUSE),
        streets=frame_of([LineString(at((-9, -9), (90, -9)))], name=["Low Lane"]),
    )
    assert any("no road counts as busy" in said(n) for n in ground.notes)
    assert ground.host_limits.empty


# Real parcels ----------------------------------------------------------------------------------------------


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

"""The swept shadow height: against a slow twin, against exact prisms, over real relief, by strips."""

import momepy
import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib import cbook
from rasterio import features
from scipy import ndimage

from habitat.errors import ParameterError
from habitat.sun.path import Place, SunPath, sun_path
from habitat.sun.shadows import WALL_M, WALL_SLOPE, heights_of, lit_counts
from tests.support.sun_truth import lit_positions

PATH = sun_path(Place(39.9, -82.0), [4, 6, 9], step_minutes=60)
NONE = np.zeros(len(PATH.month), int)


def slow_lit(caster, receiver, path, cell_m, ground=None):
    """The twin: for every cell and position, follow the line of cells back towards the sun, one by one."""
    rows, cols = caster.shape
    wall = max(WALL_M, WALL_SLOPE * cell_m)
    south, east = np.gradient(ground) if ground is not None else (np.zeros((rows, cols)),) * 2
    count = np.zeros((rows, cols), int)
    for azimuth, elevation in zip(path.azimuth, path.elevation, strict=True):
        north_part, east_part = np.cos(azimuth), np.sin(azimuth)
        by_rows = abs(north_part) >= abs(east_part)
        toward = north_part if by_rows else -east_part
        across = east_part if by_rows else -north_part
        back = toward < 0
        shift = -across / abs(toward)
        fall = cell_m * np.tan(elevation) / abs(toward)
        length, width = (rows, cols) if by_rows else (cols, rows)

        def at(raster, i, j, by_rows=by_rows, back=back, length=length):
            i = length - 1 - i if back else i
            return float(raster[i, j] if by_rows else raster[j, i])

        for i in range(length):
            for j in range(width):
                line = j - int(np.floor(i * shift + 0.5))
                heights = []
                for k in range(i + 1):
                    column = line + int(np.floor(k * shift + 0.5))
                    aside = k * shift - np.floor(k * shift + 0.5)
                    inside = 0 <= column < width
                    lean = at(east if by_rows else south, k, column) if inside else 0.0
                    heights.append((at(caster, k, column) if inside else -1e9) + aside * lean)
                shadow = -1e9
                for k in range(1, i + 1):
                    shadow = max(shadow, heights[k - 1]) - fall
                    if heights[k - 1] - heights[k] > wall:
                        shadow = max(shadow, heights[k - 1] - fall / 2)
                aside = i * shift - np.floor(i * shift + 0.5)
                lean = at(east if by_rows else south, i, j)
                lit = at(receiver, i, j) + aside * lean >= shadow
                place = (length - 1 - i if back else i, j) if by_rows else (j, length - 1 - i if back else i)
                count[place] += lit
    return count


@pytest.mark.parametrize("sloped", [False, True])
@pytest.mark.parametrize("cell_m", [1.0, 3.0])
def test_the_kernel_equals_its_slow_twin(sloped, cell_m):
    rng = np.random.default_rng(11)
    ground = np.cumsum(rng.uniform(-0.3, 0.35, (9, 12)), axis=1).astype(np.float32)
    caster = np.where(rng.random((9, 12)) < 0.2, ground + rng.uniform(2, 9, (9, 12)), ground).astype(
        np.float32
    )
    heights = heights_of(caster, cell_m, receiver=ground, ground=ground if sloped else None)
    got = lit_counts(heights, PATH, NONE)[0]
    assert (got == slow_lit(caster, ground, PATH, cell_m, ground if sloped else None)).all()
    assert 0 < got.min() < got.max()


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000), strip=st.integers(1, 40), sloped=st.booleans())
def test_strips_and_threads_change_nothing(seed, strip, sloped):
    rng = np.random.default_rng(seed)
    land = np.where(rng.random((33, 29)) < 0.1, 8.0, rng.normal(0, 0.2, (33, 29))).astype(np.float32)
    heights = heights_of(land, 1.0, ground=land if sloped else None)
    group = np.searchsorted([4, 6, 9], PATH.month)
    whole = lit_counts(heights, PATH, group, strip=100, workers=1)
    assert (whole == lit_counts(heights, PATH, group, strip=strip, workers=3)).all()


def test_heights_are_read_by_strips_only():
    """Nothing asks for more than a strip and the row before it: a raster of any size goes through."""
    land = np.zeros((300, 40), np.float32)
    seen = []
    heights = heights_of(land, 1.0)

    def read(rows, cols):
        seen.append((rows.stop - rows.start, cols.stop - cols.start))
        return land[rows, cols]

    spied = type(heights)(heights.shape, 1.0, read)
    lit_counts(spied, PATH, NONE, strip=16)
    assert all(min(size) <= 17 for size in seen)


def test_turning_the_land_with_the_sun_turns_the_light():
    """A quarter turn of land and sun alike: the four sides are swept alike, but for ties at exact halves."""
    rng = np.random.default_rng(3)
    land = np.where(rng.random((40, 40)) < 0.06, 7.0, 0.0).astype(np.float32)
    base = lit_counts(heights_of(land, 1.0), PATH, NONE)[0].astype(int)
    turned = SunPath(
        PATH.month, (PATH.azimuth - np.pi / 2) % (2 * np.pi), PATH.elevation, PATH.solar_hour, 1.0
    )
    again = lit_counts(heights_of(np.ascontiguousarray(np.rot90(land)), 1.0), turned, NONE)[0].astype(int)
    assert np.abs(again - np.rot90(base)).mean() < 0.02 * base.mean()


def test_raising_one_cell_never_lights_another():
    rng = np.random.default_rng(5)
    land = rng.uniform(0, 3, (25, 25)).astype(np.float32)
    before = lit_counts(heights_of(land, 1.0), PATH, NONE)[0].astype(int)
    land[12, 12] += 6
    after = lit_counts(heights_of(land, 1.0), PATH, NONE)[0].astype(int)
    after[12, 12] = before[12, 12]
    assert (after <= before).all()
    assert (after < before).any()


def test_shifting_all_heights_changes_nothing():
    rng = np.random.default_rng(6)
    land = (np.round(rng.uniform(0, 8, (30, 30)) * 4) / 4).astype(np.float32)
    one = lit_counts(heights_of(land, 1.0), PATH, NONE)
    two = lit_counts(heights_of(land + np.float32(256), 1.0), PATH, NONE)
    assert (one != two).mean() < 0.005


def test_unknown_heights_cast_nothing():
    land = np.full((20, 20), np.nan, np.float32)
    land[10:] = 0.0
    assert (lit_counts(heights_of(land, 1.0), PATH, NONE)[0, 10:] == len(PATH.month)).all()


def test_too_many_positions_in_a_group_are_refused():
    many = sun_path(Place(40, -82), [6], step_minutes=1)
    with pytest.raises(ParameterError, match="255"):
        lit_counts(heights_of(np.zeros((3, 3), np.float32), 1.0), many, np.zeros(len(many.month), int))
    with pytest.raises(ParameterError, match="receiver"):
        heights_of(np.zeros((3, 3), np.float32), 1.0, receiver=np.zeros((4, 3), np.float32))


# The gate -------------------------------------------------------------------------------------------------


def town(seed, size):
    """Houses of 8-14 m a side and 3.5-9 m high, turned by up to 40 degrees, one to a 26 m lot."""
    rng = np.random.default_rng(seed)
    houses, heights = [], []
    for cx in range(15, size, 26):
        for cy in range(15, size, 26):
            w, h = rng.uniform(8, 14, 2)
            house = shapely.affinity.rotate(shapely.box(-w / 2, -h / 2, w / 2, h / 2), rng.uniform(-40, 40))
            houses.append(shapely.affinity.translate(house, cx + rng.uniform(-3, 3), cy + rng.uniform(-3, 3)))
            heights.append(rng.uniform(3.5, 9))
    return houses, np.array(heights)


def compare(houses, heights, bounds, cell_m, path, sample, seed=0):
    """Return swept less exact hours a day over open cells drawn at random."""
    west, south, east, north = bounds
    shape = (round((north - south) / cell_m), round((east - west) / cell_m))
    transform = (cell_m, 0, west, 0, -cell_m, north)
    from affine import Affine

    land = features.rasterize(
        zip(houses, heights, strict=True), shape, fill=0, transform=Affine(*transform), dtype="float32"
    )
    row, col = np.divmod(np.random.default_rng(seed).permutation(land.size), shape[1])
    x, y = west + (col + 0.5) * cell_m, north - (row + 0.5) * cell_m
    solid = shapely.union_all(np.asarray(houses, object))
    keep = np.flatnonzero(~shapely.contains_xy(solid, x[: 3 * sample], y[: 3 * sample]))[:sample]
    lit = lit_counts(heights_of(land, cell_m), path, np.zeros(len(path.month), int))[0]
    exact = lit_positions(houses, heights, x[keep], y[keep], path)
    per_day = path.step_h / len(np.unique(path.month))
    return (lit[row[keep], col[keep]].astype(int) - exact) * per_day


GATE = sun_path(Place(39.9, -82.0), [4, 6, 8, 10])


@pytest.mark.parametrize(("cell_m", "most"), [(1.0, 0.20), (0.5, 0.10)])
def test_gate_exact_prisms_of_a_town(cell_m, most):
    """Mean difference at most 0.20 h at 1 m and 0.10 h at 0.5 m; bias within 0.05 h."""
    off = np.concatenate([compare(*town(s, 130), (0, 0, 130, 130), cell_m, GATE, 800) for s in (3, 5)])
    assert np.abs(off).mean() <= most
    assert abs(off.mean()) <= 0.05


def test_gate_prague_buildings():
    """Real footprints (momepy's bubenec), heights by rule 9, 12, 15, 18 m in turn; catalogue I."""
    import geopandas as gpd

    frame = gpd.read_file(momepy.datasets.get_path("bubenec"), layer="buildings").to_crs(32633)
    x, y = frame.union_all().centroid.coords[0]
    bounds = (np.floor(x) - 100, np.floor(y) - 100, np.floor(x) + 100, np.floor(y) + 100)
    near = frame[frame.intersects(shapely.box(*bounds))]
    heights = 9.0 + 3.0 * (np.arange(len(near)) % 4)
    # Only what stands inside the raster casts there, so the truth gets the same pieces.
    pieces = near.geometry.intersection(shapely.box(*bounds)).to_numpy()
    path = sun_path(Place(50.1, 14.4), [6, 9])
    off = compare(pieces, heights, bounds, 1.0, path, 800)
    assert np.abs(off).mean() <= 0.20
    assert abs(off.mean()) <= 0.05


def test_real_relief_against_bilinear_marching():
    """Jacksboro, Tennessee (matplotlib's sample terrain): swept hours against rays marched at half cells."""
    with cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        land = data["elevation"][100:180, 150:240].astype(np.float32)
    cell = 80.0  # its cells are 74 x 92 m; taken as squares, for relief of real shape
    path = sun_path(Place(36.4, -84.2), [1, 4])
    group = np.zeros(len(path.month), int)
    got = lit_counts(heights_of(land, cell, ground=land), path, group)[0][10:-10, 10:-10].astype(int)
    row, col = np.mgrid[10:70, 10:80].astype(float)
    lit = np.zeros(row.shape, int)
    for azimuth, elevation in zip(path.azimuth, path.elevation, strict=True):
        free = np.ones(row.shape, bool)
        for k in np.arange(0.5, 90, 0.5):
            r, c = row - k * np.cos(azimuth), col + k * np.sin(azimuth)
            ray = land[10:70, 10:80] + k * cell * np.tan(elevation)
            there = ndimage.map_coordinates(land, [r, c], order=1, cval=-1e9)
            free &= there <= ray
            if ray.min() > land.max():
                break
        lit += free
    off = (got - lit) * path.step_h / 2
    assert lit.min() < 0.8 * lit.max()
    assert np.abs(off).mean() <= 0.20
    assert abs(off.mean()) <= 0.05

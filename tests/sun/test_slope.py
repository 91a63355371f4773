"""Slope of a plane; catalogue A22 (Horn 1981; closed form)."""

import numpy as np
import pytest
from matplotlib.colors import LightSource

from habitat.sun.relief import gradient, slope_deg

ROW, COL = np.mgrid[0:8, 0:9]
PLANE = (0.3 * COL - 0.2 * ROW).astype(np.float32)


def test_a22_slope_and_aspect_of_a_plane():
    """Rising 0.3 a metre to the east and 0.2 to the north: 19.827029 degrees, facing 236.309932."""
    east, north = (g[1:-1, 1:-1] for g in gradient(PLANE, 1.0))
    assert np.allclose(slope_deg(PLANE, 1.0)[1:-1, 1:-1], 19.827029, atol=1e-4)
    aspect = np.degrees(np.arctan2(-east, -north)) % 360
    assert np.allclose(aspect, 236.309932, atol=1e-4)


def test_a22_light_on_the_plane():
    """Normal times light from azimuth 135 at 40 degrees: 0.553727."""
    east, north = (float(g[3, 3]) for g in gradient(PLANE, 1.0))
    normal = np.array([-east, -north, 1]) / np.sqrt(east**2 + north**2 + 1)
    azimuth, altitude = np.radians(135), np.radians(40)
    light = [np.sin(azimuth) * np.cos(altitude), np.cos(azimuth) * np.cos(altitude), np.sin(altitude)]
    assert normal @ light == pytest.approx(0.553727, abs=1e-5)


def test_cell_size_and_holes():
    assert np.allclose(slope_deg(PLANE, 2.0)[3, 3], np.degrees(np.arctan(np.hypot(0.15, 0.1))), atol=1e-4)
    holed = PLANE.copy()
    holed[4, 4] = np.nan
    assert np.isnan(slope_deg(holed, 1.0)).sum() == 8, "the eight cells around the hole"


def test_against_another_library():
    """matplotlib shades rough ground by our normals as n.s does."""
    rng = np.random.default_rng(1)
    land = np.cumsum(np.cumsum(rng.normal(0, 0.02, (40, 40)), 0), 1).astype(np.float32)
    east, north = gradient(land, 1.0)
    shade = (east * -1 + 1) / np.sqrt(east**2 + north**2 + 1)
    theirs = LightSource(azdeg=90, altdeg=45).shade_normals(
        np.dstack([-east, -north, np.ones_like(east)]) / np.sqrt(east**2 + north**2 + 1)[..., None]
    )
    assert np.corrcoef(shade[2:-2, 2:-2].ravel(), theirs[2:-2, 2:-2].ravel())[0, 1] > 0.999

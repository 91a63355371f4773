"""Water of the soil over all textures; values are held to the paper's table in tests/reference."""

import numpy as np

from habitat.soil.water import soil_water

SAND, CLAY = (part.ravel() for part in np.meshgrid(np.arange(0, 101, 5.0), np.arange(0, 61, 5.0)))
THERE = SAND + CLAY <= 100


def test_a_soil_holds_more_at_field_capacity_than_when_plants_wilt_and_less_than_when_full():
    """By definition of the three, for all soils of the triangle up to 60 % clay."""
    water = soil_water(SAND[THERE], CLAY[THERE])
    assert (water.wilting_pct < water.field_capacity_pct).all()
    assert (water.field_capacity_pct < water.saturation_pct).all()
    assert np.allclose(water.available_pct, water.field_capacity_pct - water.wilting_pct)


def test_density_follows_from_the_pores():
    """Quartz, 2.65 g/cm3, times the share that is not pore: Saxton & Rawls (2006), equation 6."""
    water = soil_water([40, 20], [20, 60])
    assert np.allclose(water.density, 2.65 * (1 - water.saturation_pct / 100))


def test_unknown_in_unknown_out():
    assert np.isnan(soil_water([np.nan, 40], [20, np.nan]).available_pct).all()
    assert np.isnan(soil_water(40, 20, np.nan).available_pct)

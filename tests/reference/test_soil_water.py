"""Soil water against Saxton & Rawls (2006), Soil Sci. Soc. Am. J. 70:1569-1578, table 3; B6, B9.

The tolerance is half the last printed digit: water 0.5 % of volume, conductivity 0.05 mm/h, density 0.005.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from habitat.factors.classes import TEXTURES as CLASSES
from habitat.soil.texture import CENTRES
from habitat.soil.water import soil_water

TABLE = pd.read_csv(Path(__file__).parent / "soil_water_saxton_rawls_2006.csv", comment="#")


@pytest.mark.parametrize(
    ("column", "printed", "half_digit"),
    [
        ("wilting_pct", "table_wp_vol_pct", 0.5),
        ("field_capacity_pct", "table_fc_vol_pct", 0.5),
        ("saturation_pct", "table_sat_vol_pct", 0.5),
        ("available_pct", "table_paw_vol_pct", 0.5),
        ("conductivity_mm_h", "table_ks_mm_h", 0.05),
        ("density", "table_bulk_density", 0.005),
    ],
)
def test_b6_all_72_values_of_table_3(column, printed, half_digit):
    water = soil_water(TABLE["sand_pct"], TABLE["clay_pct"], TABLE["om_pct"])
    assert np.abs(getattr(water, column) - TABLE[printed]).max() <= half_digit + 1e-9


def test_b6_loam_to_two_decimals():
    loam = soil_water(40, 20)
    assert float(loam.wilting_pct) == pytest.approx(13.70, abs=0.005)
    assert float(loam.field_capacity_pct) == pytest.approx(27.96, abs=0.015)
    assert float(loam.available_pct) == pytest.approx(14.26, abs=0.005)


def test_the_mixtures_that_stand_for_classes_are_the_table_s():
    given = TABLE[["sand_pct", "clay_pct"]].itertuples(index=False, name=None)
    by_name = dict(zip(TABLE["texture"].str.lower(), given, strict=True))
    assert {name: CENTRES[i] for i, name in enumerate(CLASSES)} == by_name


def test_b9_available_water_by_feel_for_medium_textures():
    """1.5-2.1 in/ft for medium textures such as loam (NRCS feel chart); 1 in/ft is 8.33 % of volume."""
    loam = float(soil_water(40, 20).available_pct) / 8.333
    assert 1.5 <= loam <= 2.1


def test_unknown_stays_unknown():
    assert np.isnan(soil_water([np.nan], [20]).available_pct).all()

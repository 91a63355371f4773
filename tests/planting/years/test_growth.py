"""Growth of crowns: never shrinking, mature in time."""

from habitat.planting.years.growth import crown_diameter_m, growth_share


def test_growth_reaches_its_mature_spread_and_never_shrinks():
    for growth in ("herb", "shrub", "tree"):
        for form in ("plug", "seed"):
            shares = [growth_share(growth, age, form) for age in range(60)]
            assert shares == sorted(shares)
            assert shares[0] == 0.0
            assert shares[-1] == 1.0
    assert crown_diameter_m(0.6, "herb", 5, planted_in=5) < crown_diameter_m(0.6, "herb", 5)
    assert crown_diameter_m(0.6, "herb", 1, planted_in=2) == 0.0

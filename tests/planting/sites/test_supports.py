"""Vines stand at supports in borders, over random yards and the tape yard, and nowhere else."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.errors import StudyError
from habitat.planting.household import Household
from habitat.planting.sites.supports import (
    NEEDS_SUPPORT_M,
    VINES_MOST,
    check_support_prices,
    support_line,
    support_of,
    support_prices,
)
from tests.support.tape_yard import FAMILY, tape_yard
from tests.support.yards import KNOWLEDGE, PLANTS, random_yard, scene

TABLE = KNOWLEDGE.plants.loc[list(PLANTS)]
TALL_VINE = ((TABLE["form"] == "vine") & (TABLE["height_m"] > NEEDS_SUPPORT_M)).to_numpy()
SPREAD = TABLE["spread_m"].to_numpy(float)


def places_of(sites):
    return [s for s in sites if s.growth_form == "shrub" and not s.ringed]


def check_vines(one, sites):
    by_id = {s.site_id: s for s in sites}
    places = places_of(sites)
    assert len(places) <= VINES_MOST
    for site in sites:
        if site not in places:
            assert not site.capacity[TALL_VINE].any()
    for site in places:
        bed = by_id[site.joins]
        assert bed.growth_form == "herb"
        assert bed.back != (0.0, 0.0)
        assert site.capacity.max() <= 1
        assert TALL_VINE[np.flatnonzero(site.capacity)].all()
        assert bed.polygon.covers(site.ground["shrub"])
        assert one.ground("shrub").covers(site.ground["shrub"])
        assert bed.ground["herb"].intersection(site.ground["shrub"]).area < 1e-9
        edge = site.polygon.centroid.distance(one.yard["geometry"].boundary)
        assert (SPREAD[np.flatnonzero(site.capacity)] / 2 <= edge + 1e-6).all()


@settings(max_examples=20, deadline=None, derandomize=True)
@given(seed=st.integers(0, 100_000))
def test_vines_of_random_yards(seed):
    one = scene(*random_yard(seed))
    check_vines(one, one.sites())


def test_vines_of_the_tape_yard():
    one = tape_yard()
    sites = one.sites(household=FAMILY)
    check_vines(one, sites)
    assert places_of(sites)
    assert not places_of(one.sites(household=Household(vines=False)))


def test_every_tall_vine_has_a_support_and_its_price_counts():
    heights, vine = TABLE["height_m"].to_numpy(float), (TABLE["form"] == "vine").to_numpy()
    prices = support_prices(vine, heights)
    assert ((prices > 0) == TALL_VINE).all()
    assert (support_prices(vine, heights, {"arbor": 0.0})[heights > 5.0] == 0).all()
    assert support_of(2.5).kind == "trellis"


def test_supports_are_as_large_as_they_are_sold():
    """Common practice: vines of 6 feet (1.8 m) are grown on something; trellises are 4 to 8 feet tall (1.2 to
    2.4 m), arbors 7 to 8 feet (2.1 to 2.4 m), and the larger costs more."""
    trellis, tall, arbor = (support_of(h) for h in (1.83, 4.0, 9.0))
    assert 1.2 <= trellis.height_m < tall.height_m <= 2.45
    assert 2.1 <= arbor.height_m <= 2.45
    assert trellis.price < tall.price < arbor.price


def test_a_support_stands_behind_its_vine():
    one = tape_yard()
    for site in places_of(one.sites(household=FAMILY)):
        at = site.polygon.centroid
        line = support_line(at, site.back, 1.8)
        assert line.length == pytest.approx(1.8)
        assert line.distance(at) == pytest.approx(0.12)


def test_a_support_that_nobody_knows_is_refused():
    with pytest.raises(StudyError, match="pagoda"):
        check_support_prices({"pagoda": 5.0})

"""What costs a plant most of its fit over some places, held against sums done by hand."""

import numpy as np
import pytest

from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability import build_needs, compile_needs
from habitat.suitability.fit import score
from habitat.suitability.held_back import held_back
from habitat.suitability.maps import map_errors
from tests.support.yards import KNOWLEDGE

NEEDS = build_needs({"aster": {"sun_h": (2, 6, 8, 12), "ph": (4, 5, 7, 8)}})


def places(sun, ph):
    return {"sun_h": np.array(sun, np.float32), "ph": np.array(ph, np.float32)}


def test_the_need_that_costs_most_is_named_not_the_one_that_limits_most_places():
    """Three places lose 0.1 each by pH, one loses 0.75 by sun: sun costs 0.75, pH 0.3."""
    found = held_back(NEEDS, "aster", places([3.0, 7.0, 7.0, 7.0], [6.0, 7.1, 7.1, 7.1]))
    assert found.fit == pytest.approx((0.25 + 3 * 0.9) / 4)
    assert (found.need, found.share, found.side) == ("sun_h", 0.25, "too little")


@pytest.mark.parametrize(
    ("sun", "ph", "need", "side"),
    [
        (10.0, 6.0, "sun_h", "too much"),
        (4.0, 6.0, "sun_h", "too little"),
        (7.0, 4.5, "ph", "too little"),
        (7.0, 7.5, "ph", "too much"),
        (7.0, np.nan, "ph", "unknown"),
    ],
)
def test_the_direction_is_told(sun, ph, need, side):
    found = held_back(NEEDS, "aster", places([sun], [ph]))
    assert (found.need, found.side, found.share) == (need, side, 1.0)


def test_nothing_is_named_where_nothing_is_lost():
    found = held_back(NEEDS, "aster", places([7.0, 8.0], [5.0, 7.0]))
    assert (found.fit, found.need, found.side, found.doubted) == (1.0, "", "", False)


def test_doubt_of_maps_is_only_told_where_confidence_was_asked_for():
    """pH in the best range by the map, whose error alone lowers the fit; without confidence nothing does."""
    plant = "Asclepias syriaca"
    ph = np.full(3, KNOWLEDGE.plants.loc[plant, "ph_opt_high"], np.float32)
    sure = SuitabilitySettings(confidence=0.8, draws=50)
    doubtful = compile_needs(KNOWLEDGE, sure, ("ph",), errors=map_errors({"ph": 0.5}))
    found = held_back(doubtful, plant, {"ph": ph})
    assert (found.doubted, found.need) == (True, "")
    low = score(doubtful, plant, {"ph": ph[None, :]}, sure=True).low
    assert found.fit == pytest.approx(float(low.mean()))
    assert found.fit < 1.0
    assert not held_back(compile_needs(KNOWLEDGE, SuitabilitySettings(), ("ph",)), plant, {"ph": ph}).doubted

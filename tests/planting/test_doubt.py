"""Habitat under the errors that maps state, in some yards of the demo town."""

import dataclasses

import numpy as np
import pytest

from habitat.pipeline.planting import draws_of
from tests.support.plans import with_ph_error


def test_habitat_follows_draws_of_the_soil_map(eight_yards, planting):
    """Exact maps draw nothing; a small error moves habitat a little, soil no host bears takes it away."""
    wishes = eight_yards.wishes
    none, tiny, wide, absurd = (
        draws_of(with_ph_error(eight_yards, sd), planting, wishes) for sd in (None, 1e-6, 0.5, 40.0)
    )
    assert none == {}
    assert tiny.keys() == wide.keys() == absurd.keys()
    table = planting.yard_butterflies
    grown = table[(table["role"] != "anchor") & (table["leaf_m2"] > 0)]
    pairs = set(zip(grown["yard_id"], grown["butterfly"], strict=True))
    # a single shrub may stand where its own place, unlike the mean of its bed, scores nothing
    assert len(pairs - wide.keys()) <= 0.05 * len(pairs)
    # scores are bytes: one at the edge of rounding may step by 1/250 for one plant of several
    assert np.concatenate(list(tiny.values())) == pytest.approx(1.0, abs=1 / 250)
    spread = {key: factors.std() for key, factors in wide.items()}
    assert all(len(f) == 24 and (f >= 0.0).all() for f in wide.values())
    assert np.mean([s > 0.01 for s in spread.values()]) > 0.3
    assert np.mean([(f == 0.0).mean() for f in absurd.values()]) > 0.7
    again = draws_of(with_ph_error(eight_yards, 0.5), planting, wishes)
    assert all(np.array_equal(wide[key], again[key]) for key in wide)


def test_what_a_soil_test_tells_does_not_follow_the_draws(eight_yards, planting):
    """The error is the map's, and a test is no map: the yard with a test stays, its neighbours do not."""
    ground, wishes = with_ph_error(eight_yards, 40.0), eight_yards.wishes
    shaken = draws_of(ground, planting, wishes)
    yard_id = next(key[0] for key, factors in shaken.items() if (factors == 0.0).any())
    site = dataclasses.replace(ground.site, tests={"ph": frozenset({yard_id})})
    tested = draws_of(dataclasses.replace(ground, site=site), planting, wishes)
    mine = [key for key in shaken if key[0] == yard_id]
    assert np.concatenate([tested[key] for key in mine]) == pytest.approx(1.0, abs=1e-6)
    assert np.mean([(tested[key] == 0.0).any() for key in shaken if key not in mine]) > 0.7

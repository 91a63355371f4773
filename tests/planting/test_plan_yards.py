"""Yards chosen and not drawn: they come to what their plans do, and nobody else's changes that."""

import numpy as np
import pytest
from scipy.stats import spearmanr
from shapely.affinity import translate

from habitat.planting.plan_yards import plan_yards, undrawn_habitat
from tests.planting.test_estimate import WISHES, town
from tests.support.yards import random_yard


@pytest.fixture(scope="module")
def given():
    """Return what both take, of sixteen yards with a house each, light by chance."""
    made = [tuple(translate(g, 70 * k, 0) for g in random_yard(k)) for k in range(16)]
    hours = np.random.default_rng(0).uniform(0.5, 10.0, 24)[:16]
    return town(*map(list, zip(*made, strict=True)), hours, WISHES, 250.0)


@pytest.fixture(scope="module")
def found(given):
    return undrawn_habitat(*given[0], **given[1])


def test_yards_are_ordered_as_their_plans_are(given, found):
    """The other side of the check: plants drawn, habitat recounted from what was drawn."""
    plans = plan_yards(*given[0], **given[1]).yard_butterflies.groupby("yard_id")["habitat_m2"].sum()
    total = found.sum(axis=1)
    assert spearmanr(total, plans[total.index]).statistic >= 0.9
    assert 0.8 * plans.sum() <= total.sum() <= 1.25 * plans.sum()


def test_who_else_is_looked_at_changes_nothing(given, found):
    two = undrawn_habitat(*given[0], **{**given[1], "yard_ids": ("03", "01")})
    assert two.to_numpy() == pytest.approx(found.loc[["03", "01"]].to_numpy())

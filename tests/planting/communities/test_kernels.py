"""Compiled loops that put beds together, beside their plain twin."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.planting.communities.compose import Place, compose_each, kinds_of, rank
from habitat.planting.communities.rules import STYLES
from tests.planting.communities.plain_compose import plain_compose
from tests.planting.communities.test_compose import random_palette

ORDERS = ([], [0], [1, 0], [3, 2, 1, 0], [2, 3])


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(sorted(STYLES)), st.floats(0.3, 40.0))
def test_every_bed_is_that_of_the_plain_loops(seed, style, area_m2):
    rng, rules = np.random.default_rng(seed), STYLES[style]
    palette = random_palette(seed, rules)
    count = len(palette.months)
    together = rng.random((count, count)) < 0.9
    palette = replace(
        palette,
        most=np.where(rng.random(count) < 0.2, rng.integers(0, 12, count), np.inf),
        together=(together & together.T) | np.eye(count, dtype=bool) if rng.random() < 0.5 else None,
    )
    fit = rng.random(count)
    place = Place(
        area_m2, float(rng.uniform(0.8, 3.0)), bool(rng.random() < 0.5), rng.random(count) < rng.random(),
        fit,
        structured=bool(rng.random() < 0.3),
        calm_m2=np.where(rng.random(count) < 0.1, rng.uniform(0.0, area_m2, count), np.inf),
        yard_m2=float(rng.choice([0.0, 20.0])), drawn_times=float(rng.choice([1.0, 1.3])),
    )  # fmt: skip
    found = compose_each(place, kinds_of(palette), rank(palette, fit), palette.habits, rules, ORDERS)
    plain = [plain_compose(place, palette, rules, wanted) for wanted in ORDERS]
    np.testing.assert_array_equal(found, plain)

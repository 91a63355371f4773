"""Sides of open ground, cut where what grows there changes."""

import numpy as np
import pytest

from habitat.planting.sites import edges as strips


def test_cut_even_is_the_best_of_all_cuts():
    """Against every way to cut a short side."""
    rng = np.random.default_rng(2)
    for _ in range(20):
        n = int(rng.integers(6, 12))
        values = rng.uniform(0, 1, (n, 3)).round(1)
        values[n // 2 :] = values[n // 2 :] * 0.2
        cuts = strips.cut_even(values, float(n))
        assert cost_of(values, [round(b) for _, b in cuts]) == pytest.approx(
            min(cost_of(values, ends) for ends in all_ends(n)), abs=1e-9
        )


def all_ends(n):
    if n == 0:
        yield []
    for size in range(3, 11):
        if size <= n:
            for rest in all_ends(n - size):
                yield [size, *[size + e for e in rest]]


def cost_of(values, ends):
    parts = np.split(values, ends[:-1])
    return sum(((p - p.mean(axis=0)) ** 2).mean(axis=1).sum() + strips.CUT_PRICE for p in parts)

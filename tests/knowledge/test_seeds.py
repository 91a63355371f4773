"""Weights of seed against the published counts."""

import pytest

from habitat.knowledge.seeds import seeds_per_gram


def test_weights_are_those_of_the_published_table():
    """USDA NRCS, PLANTS database: big bluestem 144,240 seeds a pound of 453.592 g; lobelias are like dust."""
    weights = seeds_per_gram()
    assert weights["Andropogon gerardii"] == pytest.approx(144_240 / 453.592, rel=1e-3)
    assert not [plant for plant in weights if plant.startswith("Lobelia ")]
    assert all(number > 0 for number in weights.values())

"""Packets, plugs and pots in words."""

import math

import pytest

from habitat.report.words.forms import after_count, bought, packets


@pytest.mark.parametrize(("count", "spacing_m"), [(1, 0.3), (25, 0.3), (26, 0.3), (60, 0.6), (7, 0.1)])
def test_packets_sow_the_ground_of_all_plants(count, spacing_m):
    """A packet sows 2 m2 (judgement of supply.py); plants stand in triangles, 30 cm apart or more."""
    ground = count * math.sqrt(3) / 2 * max(spacing_m, 0.3) ** 2
    assert packets(count, spacing_m) == math.ceil(ground / 2.0)


def test_one_and_several():
    assert bought(1, "plug", 0.3) == "1 plug"
    assert bought(1200, "bare root", 0.3) == "1,200 bare-root plants"
    assert after_count(1, "seed", 0.3) == "from 1 packet"

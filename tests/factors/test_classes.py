"""Classes of factors: words that name one, and zones."""

import math

from habitat.factors import FACTORS
from habitat.factors.classes import drainage_rank, texture_number, zone_number


def test_words_that_are_no_class_have_no_number():
    for read in (drainage_rank, texture_number, zone_number):
        assert math.isnan(read("soggy"))


def test_hardiness_zones_run_from_1a_to_13b():
    """USDA Plant Hardiness Zone Map (2012): thirteen zones with two halves each."""
    assert FACTORS["zone"].possible == (zone_number("1a"), zone_number("13b"))

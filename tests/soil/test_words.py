"""Words of the soil survey; classes are held to the manual's tables in tests/reference."""

import math
from itertools import pairwise

import pytest

from habitat.factors.classes import DRAINAGE, drainage_rank
from habitat.soil.words import REACTION, drainage_word, reaction_class


@pytest.mark.parametrize("name", DRAINAGE)
def test_a_rank_leads_back_to_its_word(name):
    assert drainage_word(drainage_rank(name)) == name


def test_ranks_between_and_beyond_take_the_nearest_word():
    assert drainage_word(4.4) == DRAINAGE[3]
    assert drainage_word(4.5) == DRAINAGE[4]
    assert (drainage_word(0.2), drainage_word(9)) == (DRAINAGE[0], DRAINAGE[-1])
    assert drainage_word(math.nan) == ""


def test_every_class_begins_where_the_one_before_ends():
    """The manual states classes to one decimal: 3.5-4.4, 4.5-5.0, and so on."""
    for (below, word), (_, following) in pairwise(REACTION):
        assert (reaction_class(below - 0.1), reaction_class(below)) == (word, following)
    assert reaction_class(math.nan) == ""

"""Months of nectar that beds are chosen by."""

from habitat.knowledge.year import NIGHT_SHORT, day_and_night
from habitat.planting.communities.choose import BY_DAY


def test_nectar_by_day_is_that_of_the_twelve_months():
    """Bit m for month m, those of the night behind them."""
    assert all(BY_DAY >> month & 1 for month in range(1, 13))
    assert BY_DAY >> 13 == 0
    assert NIGHT_SHORT == 12
    assert day_and_night([7]) & BY_DAY == 1 << 7

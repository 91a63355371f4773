"""Stretches parted into beds with walks between, by hand."""

import pytest

from habitat.planting.sites.parting import WALK_M, _parted


@pytest.mark.parametrize(
    ("stop", "many"), [(3.0, 1), (4.0, 1), (4.1, 2), (8.0 + WALK_M, 2), (9.0 + WALK_M, 3)]
)
def test_a_stretch_is_parted_into_the_fewest_even_ones(stop, many):
    """At most 4 m each: as many as fit with a walk between neighbours."""
    parts = _parted(0.0, stop, 4.0)
    assert len(parts) == many
    assert (parts[0][0], parts[-1][1]) == pytest.approx((0.0, stop))
    lengths = [end - start for start, end in parts]
    assert lengths == pytest.approx([(stop - (many - 1) * WALK_M) / many] * many)
    assert max(lengths) <= 4.0 + 1e-5

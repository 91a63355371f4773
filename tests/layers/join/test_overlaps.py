"""Overlaps of yards add up."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.layers.join.overlaps import find_overlaps


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(*[st.integers(0, 20)] * 4), min_size=1, max_size=8))
def test_overlaps_add_up_like_unions_worked_out_one_by_one(corners):
    boxes = np.array(
        [shapely.box(min(a, c), min(b, d), max(a, c) + 1, max(b, d) + 1) for a, b, c, d in corners],
        dtype=object,
    )
    found = find_overlaps(boxes)
    assert found.ground_m2 == pytest.approx(shapely.union_all(boxes).area)
    for i, box in enumerate(boxes):
        rest = shapely.union_all(np.delete(boxes, i))
        assert found.yard_m2[i] == pytest.approx(box.intersection(rest).area, abs=1e-6)

"""How plants grow: into which groups kinds part."""

from __future__ import annotations

import pytest

from habitat.planting.communities.habits import group_sizes


@pytest.mark.parametrize(("count", "groups"), [(3, 1), (9, 1), (10, 2), (18, 2), (27, 3), (60, 3)])
def test_kinds_part_into_few_groups(count, groups):
    sizes = group_sizes(count, (3, 5, 7, 9), 3)
    assert sum(sizes) == count
    assert len(sizes) == groups
    assert max(sizes) - min(sizes) <= 1

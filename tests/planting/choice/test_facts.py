"""Plants as arrays: cover of drifts, hazards by name, hosts too young by the plan year."""

import math

import numpy as np
import pytest

from habitat.errors import StudyError
from habitat.planting.choice.facts import covered_per_plant_m2, drift_cover_m2
from tests.support.choice_yards import (
    HERBS,
    SEASON,
    WISHES,
    facts_of,
    knowledge,
    needs_of,
    settings_of,
)


def test_unknown_hazard_is_an_error_that_lists_the_known_ones():
    from habitat.planting.choice.facts import read_facts

    wrong = settings_of(avoid_hazards=["bitey"])
    needs = needs_of("sun_h").subset(list(HERBS))
    with pytest.raises(StudyError, match=r"bitey.*thorns"):
        read_facts(knowledge(), needs, WISHES, wrong, SEASON)


@pytest.mark.parametrize("crown", [0.5, 0.6, 0.66, 0.69, 0.72, 1.0, 2.0])
def test_cover_inside_a_drift_is_disc_within_hexagon(crown):
    """Area of a disc within the hexagonal cell of a triangular lattice, by shapely (outside library)."""
    shapely = pytest.importorskip("shapely")
    spacing, corner = 0.6, 0.6 / math.sqrt(3)
    angles = np.arange(6) * math.pi / 3 + math.pi / 6
    cell = shapely.Polygon(np.c_[corner * np.cos(angles), corner * np.sin(angles)])
    expected = shapely.Point(0, 0).buffer(crown / 2, quad_segs=2000).intersection(cell).area
    assert covered_per_plant_m2(crown, spacing) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("ratio", [1.0, 1.2, 1.33, 1.5])
@pytest.mark.parametrize(("rows", "columns"), [(2, 5), (3, 4), (4, 5), (6, 7), (2, 12)])
def test_cover_of_a_drift_is_near_the_union_of_its_crowns(ratio, rows, columns):
    """Union of discs on a triangular lattice, by shapely; two rows are the narrowest drift."""
    import shapely

    spacing = 0.5
    points = [
        (spacing * (i + (j % 2) / 2), spacing * j * math.sqrt(0.75))
        for j in range(rows)
        for i in range(columns)
    ]
    crown = ratio * spacing
    union = shapely.union_all(shapely.buffer(shapely.points(points), crown / 2, quad_segs=64)).area
    inner = covered_per_plant_m2(crown, spacing)
    assert drift_cover_m2(len(points), math.pi / 4 * crown**2, inner) == pytest.approx(union, rel=0.06)


def test_hosts_too_young_by_the_plan_year_are_none():
    """Sassafras as a bare-root tree carries in season 5, spicebush as a shrub in 3 (table brood_needs)."""
    plants, wish = ("Lindera benzoin", "Sassafras albidum", "Zizia aurea"), ("Papilio troilus",)
    for year, hosts in ((5, [True, True]), (4, [True, False]), (3, [True, False]), (2, [True, True])):
        facts = facts_of(plants, wish, year=year)
        assert list(facts.preference[0, :2] > 0) == hosts
    assert list(facts_of(plants, wish, year=3).too_young[0]) == [False, True, False]

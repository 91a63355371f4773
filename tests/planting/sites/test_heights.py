"""Low at the front of beds and not too tall behind: in the choice and in what is drawn."""

import dataclasses

import numpy as np
import pytest
import shapely

from habitat.planting.drawing.drifts import frame_of
from habitat.planting.sites.heights import FRONT_SHARE, front_of, with_height_limits
from habitat.planting.yard_jobs import plan_for, problem_of
from habitat.settings.planting import PlantingSettings
from tests.support.remarks import said
from tests.support.yards import FACTS, SETTINGS, SHARED, rich_yard

FRONT_M, BACK_M = 0.7, 1.5


@pytest.fixture(scope="module", params=range(1, 5))
def limited(request):
    """A random yard with limits, planned: (job, choice, drawing)."""
    settings = PlantingSettings(front_max_height_m=FRONT_M, back_max_height_m=BACK_M)
    job = rich_yard(request.param)
    sites = [with_height_limits(s, FACTS.height_m, settings) for s in job.sites]
    job = dataclasses.replace(job, sites=sites)
    return job, *plan_for(job, dataclasses.replace(SHARED, settings=settings))


def test_nothing_tall_stands_at_the_front(limited):
    job, choice, drawing = limited
    assert not drawing.dropped
    beds = {row["bed_id"]: row["geometry"] for row in drawing.beds if row["growth_form"] == "herb"}
    tall, low = 0, 0
    for block in drawing.points:
        if block.bed_id not in beds:
            continue
        assert block.height_m <= BACK_M
        (site,) = [s for s in job.sites if s.polygon.buffer(1e-6).covers(beds[block.bed_id])]
        frame, _ = frame_of(site.polygon, site.along, site.back, SHARED.latitude_deg)
        _, south, _, north = frame.into(site.polygon).bounds
        behind = frame.points_into(block.xy)[:, 1] >= south + FRONT_SHARE * (north - south) - 1e-6
        if block.height_m > FRONT_M:
            assert behind.all()
            tall += len(behind)
        else:
            low += int((~behind).sum())
    assert tall > 0
    assert low > 0
    assert sum(a.count for a in choice.allocations) == sum(len(b.xy) for b in drawing.points)


def test_what_is_too_tall_for_a_bed_is_told_why(limited):
    job, choice, _ = limited
    problem = problem_of(job, SHARED)
    tall = [p for p, form in enumerate(FACTS.growth) if form == "herb" and FACTS.height_m[p] > BACK_M]
    assert "plants must stay low here" in {said(problem.blocked[p]) for p in tall}
    assert not set(tall) & set(problem.plant)
    assert choice.worth > 0


def test_without_limits_a_site_stays_as_it_is():
    for site in rich_yard(0).sites:
        same = with_height_limits(site, FACTS.height_m, SETTINGS)
        assert np.array_equal(same.capacity, site.capacity)
        assert same.height_max_m == site.height_max_m


def test_spots_of_single_trees_have_no_front():
    settings = PlantingSettings(front_max_height_m=0.3, back_max_height_m=0.5)
    spots = [s for s in rich_yard(0).sites if s.growth_form != "herb"]
    assert spots
    for site in spots:
        assert with_height_limits(site, FACTS.height_m, settings) is site


@pytest.mark.parametrize("back", [(0.0, 1.0), (0.0, -1.0)])
def test_the_front_is_the_side_of_the_lawn(back):
    """A bed 6 m by 1.5 m along a wall: 3 m2 of it are the front, away from the wall where that decides."""
    bed = shapely.box(0, 0, 6, 1.5)
    frame, _ = frame_of(bed, (1.0, 0.0), back, 0.0)
    front = front_of(bed, frame).intersection(bed)
    assert front.area == pytest.approx(3.0)
    north = frame_of(bed, (1.0, 0.0), (0.0, 1.0), 40.0)[0]
    assert front_of(bed, north).intersection(bed).bounds == pytest.approx((0.0, 0.0, 6.0, 0.5))

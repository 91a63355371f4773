"""A planting is judged where it stands, not by its bed site; what falls below the least class is given up."""

import dataclasses

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree
from shapely import Point, box

from habitat.planting.drawing.draw import DrawingBoard, draw_choice
from habitat.planting.drawing.judged import cells_at, sun_on
from habitat.planting.types import Allocation, Cells, Choice
from habitat.planting.yard_jobs import plan_for
from habitat.suitability.fit import score
from tests.support.yards import (
    KINDS,
    KNOWLEDGE,
    NEEDS,
    PLANTS,
    SHARED,
    random_choice,
    random_yard,
    rich_yard,
    scene,
)

ASTER = "Symphyotrichum laeve"


def half_shady(site):
    """The site with 8 h of sun in its western half and 1 h in the rest."""
    x = site.cells.x
    sun = np.where(x < np.median(x), 8.0, 1.0).astype(np.float32)
    return dataclasses.replace(site, cells=dataclasses.replace(site.cells, values={"sun_h": sun}))


@pytest.mark.parametrize("seed", range(4))
def test_fit_of_a_planting_is_that_of_its_plants_cells(seed):
    """By a second road: each plant's cell looked up by its edges, scored alone, and the mean taken."""
    one = scene(*random_yard(seed))
    sites = [half_shady(s) if s.growth_form == "herb" else s for s in one.sites()]
    board = dataclasses.replace(one.board(), needs=NEEDS)
    drawing = draw_choice(board, sites, random_choice(sites, seed))
    by_id = {row["planting_id"]: row for row in drawing.plantings}
    judged = 0
    for block in drawing.points:
        site, *others = (s for s in sites if s.polygon.buffer(1e-6).covers(Point(block.xy[0])))
        if site.growth_form != "herb" or others:  # vines and trees have places of their own within beds
            continue
        cells, got = site.cells, []
        for x, y in block.xy:
            inside = (np.abs(cells.x - x) <= 0.5 + 1e-9) & (np.abs(cells.y - y) <= 0.5 + 1e-9)
            got += [cells.values["sun_h"][inside][0]] if inside.any() else [np.nan]
        if np.isnan(got).any():
            continue
        alone = score(NEEDS, block.plant, {"sun_h": np.array([got], np.float32)}).low
        row = by_id[block.planting_id]
        assert row["fit"] == pytest.approx(float(alone.mean()))
        assert (row["limiting_need"] == "sun_h") == (row["fit"] < 1.0 - 1e-9)
        judged += 1
    assert judged >= 3


def test_places_are_in_the_cell_whose_edges_hold_them():
    cells = Cells(np.array([0.5, 1.5, 0.5]), np.array([0.5, 0.5, 1.5]), 1.0, {})
    places = np.array([[0.9, 0.2], [1.1, 0.9], [0.1, 1.01], [5.0, 0.4]])
    assert cells_at(cells, places).tolist() == [0, 1, 2, 1]


def test_sun_of_a_bed_is_that_of_its_own_ground():
    """A bed over all of one cell and a quarter of the next: (8 + 2 / 4) / 1.25."""
    cells = Cells(np.array([0.5, 1.5]), np.array([0.5, 0.5]), 1.0, {"sun_h": np.array([8, 2], np.float32)})
    assert sun_on(cells, box(0.0, 0.0, 1.25, 1.0)) == pytest.approx((8.0 + 2.0 * 0.25) / 1.25)


@pytest.mark.parametrize("seed", range(3))
def test_nothing_stands_where_it_falls_below_the_least_class(seed):
    """Bed sites promise full fit; half of their ground has 1 h of sun."""
    job = rich_yard(seed)
    sites = [
        dataclasses.replace(half_shady(s), fit=np.ones(len(PLANTS))) if s.growth_form == "herb" else s
        for s in job.sites
    ]
    first = plan_for(dataclasses.replace(job, sites=sites), SHARED)
    choice, drawing = first
    herbs = {s.site_id for s in sites if s.growth_form == "herb"}
    assert drawing.fits
    assert all(drawing.fits[at] >= 0.25 for at in drawing.rows if at[0] in herbs and at in kept(choice))
    told = {r.subject.plants[0] for r in choice.relaxed if r.kind == "unfit_as_drawn"}
    assert told
    assert not told & {a.plant for a in choice.allocations}


def kept(choice):
    return {(a.site_id, a.plant) for a in choice.allocations}


@pytest.mark.parametrize("seed", range(6))
def test_plants_of_two_beds_keep_the_mean_of_their_spacings(seed):
    """But for trees, vines and shrubs in places of their own, whose trunk or support herbs come up to."""
    job = rich_yard(seed)
    _, drawing = plan_for(job, SHARED)
    form = KNOWLEDGE.plants["form"]
    centres = [shapely.get_coordinates(s.polygon.centroid)[0] for s in job.sites if s.ringed]
    alone = {tuple(np.round(xy, 3)) for xy in centres}
    blocks = [block for block in drawing.points if form[block.plant] not in ("tree", "vine")]
    blocks = [block for block in blocks if tuple(np.round(block.xy[0], 3)) not in alone]
    xy = np.vstack([block.xy for block in blocks])
    apart = np.repeat([KINDS[block.plant].spacing_m for block in blocks], [len(b.xy) for b in blocks])
    pairs = cKDTree(xy).query_pairs(float(apart.max()), output_type="ndarray")
    distance = np.hypot(*(xy[pairs[:, 0]] - xy[pairs[:, 1]]).T)
    assert (distance >= (apart[pairs[:, 0]] + apart[pairs[:, 1]]) / 2 - 1e-5).all()


def test_a_shrub_beside_a_bed_keeps_its_herbs_off():
    """A lone shrub 0.4 m from the bed's edge: without a look over the edge herbs would crowd it."""
    job = rich_yard(1)
    bed = next(s for s in job.sites if s.growth_form == "herb")
    shrub = "Lindera benzoin"
    centre = bed.polygon.centroid
    ring = centre.buffer(0.3)
    spot = dataclasses.replace(
        bed, site_id=99, growth_form="shrub", polygon=ring, ground={"shrub": ring, "herb": ring}, cells=None
    )
    chosen = (
        Allocation(bed.site_id, ASTER, "plug", 9, 9.0, "", (), ""),
        Allocation(99, shrub, "pot", 1, 9.0, "", (), ""),
    )
    board = DrawingBoard(job.yard, KINDS, 39.9)
    drawing = draw_choice(board, [bed, spot], Choice("Y1", chosen, 0.0, 0.0, {}, (), 0.0))
    herbs = next(b.xy for b in drawing.points if b.plant == ASTER)
    woody = next(b.xy for b in drawing.points if b.plant == shrub)
    least = (KNOWLEDGE.plants.loc[ASTER, "spacing_m"] + KNOWLEDGE.plants.loc[shrub, "spacing_m"]) / 2
    assert np.hypot(*(herbs - woody[0]).T).min() >= least - 1e-6

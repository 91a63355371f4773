"""Crossing costs and the ground they are laid on; distance by ground from end to end."""

import geopandas as gpd
import pytest
import shapely

from habitat.connectivity.distance.crossing import (
    CROSSING_COSTS,
    GROUPS,
    coarsest,
    ground_of,
    ground_word,
)
from habitat.errors import LayerError
from habitat.grid import Grid
from habitat.pipeline.corridor import ground_maps
from habitat.report.words.en import english
from tests.connectivity.invented_town import CRS_M, line_of_squares, reasons, request, score, sentences

BUTTERFLY = "Danaus plexippus"


def frame(*shapes, **columns):
    return gpd.GeoDataFrame(columns, geometry=list(shapes), crs=CRS_M)


def asked(layers=None, **settings):
    yards, breeding = line_of_squares([50.0] * 3, gap_m=40.0)
    base = {"distance": "by ground", "ground_cell_m": 1.0, "median_m": {BUTTERFLY: 300.0}, "rank_draws": 0}
    return request(
        yards, breeding, butterflies=(BUTTERFLY,), layers=layers or {}, connectivity={**base, **settings}
    )


def ground_in(layers, bounds):
    grid = Grid.from_bounds(bounds, 1.0, layers.crs)
    return ground_of(ground_maps(layers, grid), grid)


def test_every_cost_has_a_source_and_hinders_at_least_a_little():
    assert (CROSSING_COSTS[list(GROUPS)] >= 1.0).all().all()
    assert (CROSSING_COSTS[list(GROUPS)].min() == 1.0).all()
    assert CROSSING_COSTS["source"].str.len().gt(0).all()


@pytest.mark.parametrize(
    ("word", "want"),
    [
        ("Deciduous Forest", "woodland"),
        ("mown lawn", "grass"),
        ("Emergent marsh", "wetland"),
        ("busy road", "busy road"),
        ("Parking lot", "paving"),
        ("class 81", None),
        ("fence line", None),
    ],
)
def test_land_cover_words(word, want):
    assert ground_word(word, dict.fromkeys(CROSSING_COSTS.index, 0)) == want


def test_the_last_layer_counts():
    made = asked(
        {
            "landcover": frame(shapely.box(0, 0, 140, 20), cover=["Woodland"]),
            "streets": frame(shapely.LineString([(40, -50), (40, 70)]), width_m=[6.0], busy=["yes"]),
            "buildings": frame(shapely.box(60, 5, 70, 15), shapely.box(72, 5, 80, 15), height_m=[5.0, 14.0]),
            "water": frame(shapely.LineString([(100, -50), (100, 70)]), width_m=[4.0]),
        }
    )
    ground = ground_in(made.layers, (0.0, -10.0, 140.0, 30.0))
    rows, cols = ground.grid.rowcol([10, 40, 65, 75, 100, 25], [10, 10, 10, 10, 10, 25])
    got = [ground.names[k] for k in ground.kind[rows, cols]]
    assert got == ["woodland", "busy road", "building", "tall building", "water", "unknown"]
    cost = ground.cost(CROSSING_COSTS, "open")
    assert cost[rows, cols].tolist() == [4.0, 5.0, 5.0, 20.0, 2.0, 2.0]


def test_ground_that_nobody_names_is_unknown_and_told():
    made = asked({"landcover": frame(shapely.box(0, 0, 10, 10), cover=["xyzzy"])})
    ground = ground_in(made.layers, (0.0, -40.0, 140.0, 60.0))
    assert any("'xyzzy' is not known" in n for n in map(english(), ground.notes))
    assert any("counts as unknown ground" in n for n in map(english(), ground.notes))


def test_a_wood_between_hinders_an_open_country_butterfly():
    plain = score(asked({"landcover": frame(shapely.box(-50, -90, 200, 110), cover=["meadow"])}))
    wood = frame(shapely.box(-50, -90, 200, 110), shapely.box(25, -90, 55, 110), cover=["meadow", "wood"])
    wooded = score(asked({"landcover": wood}))
    straight = score(asked(distance="straight"))

    def first(corridor):
        links = corridor.links[(corridor.links["state"] == "members") & (corridor.links["from_yard"] == "00")]
        return float(links["distance_m"].iloc[0])

    assert first(straight) == pytest.approx(40.0)
    assert first(plain) == pytest.approx(40.0, abs=1.01)
    assert first(wooded) == pytest.approx(40.0 + 3.0 * 30.0, abs=1.5)
    assert wooded.headline["joint_score"]["everyone"] == 1.0
    a, b = (c.headline["butterflies"][BUTTERFLY]["members"]["equivalent_area_m2"] for c in (wooded, plain))
    assert a < b


def test_a_chain_by_ground_goes_round_what_is_shut(tmp_path):
    shut = "ground,open,edge,woodland,wetland\nbuilding,inf,inf,inf,inf\n"
    (tmp_path / "costs.csv").write_text(shut, encoding="utf-8")
    yards, breeding = line_of_squares([50.0] * 2, gap_m=40.0)
    ends = shapely.box(-60, 0, -50, 20), shapely.box(140, 0, 150, 20)
    anchors = frame(*ends, name=["West", "East"], host_share=[0.1, 0.1], butterflies=["all"] * 2)
    wall = frame(shapely.box(35, -20, 45, 40), height_m=[6.0])
    made = request(
        yards, breeding, anchors=anchors, butterflies=(BUTTERFLY,), layers={"buildings": wall},
        connectivity={
            "distance": "by ground", "ground_cell_m": 1.0, "crossing_costs": str(tmp_path / "costs.csv"),
            "hop_max_m": {BUTTERFLY: 200.0}, "rank_draws": 0,
        },
    )  # fmt: skip
    chain = score(made).chain.query("state == 'members'")
    assert len(chain) == 3
    middle = chain.iloc[1]
    assert middle["distance_m"] > 2 * 40.0
    assert not middle.geometry.crosses(shapely.box(35.5, -19.5, 44.5, 39.5))


def test_a_reach_that_crosses_the_map_may_not_cross_the_ground():
    """Squares of 20 m, 40 m apart, with tall buildings (20 times the cost) in between."""
    wall = frame(*(shapely.box(x, -300, x + 10, 320) for x in (35, 95)), height_m=[14.0] * 2)
    layers = {"buildings": wall, "landcover": frame(shapely.box(-60, -300, 200, 320), cover=["meadow"])}
    for distance, limited in (("straight", False), ("by ground", True)):
        got = score(asked(layers, distance=distance, hop_max_m={BUTTERFLY: 200.0}))
        said = " ".join(sentences(got))
        assert got.breaks[BUTTERFLY]["unlimited"] is not limited
        assert ("the whole town is one garden" in said) is not limited
        assert ("Distances go by ground" in said) is limited
    made = asked({"landcover": layers["landcover"]}, hop_max_m={BUTTERFLY: 135.0})
    assert not score(made).breaks[BUTTERFLY]["unlimited"]  # though all links are possible


NEAR = "Your yard lies {} from West, from where the monarch can come"
ADDS = "Your yard adds 1.00 square metres of breeding ground for the monarch"


@pytest.mark.parametrize(("height_m", "said"), [(14.0, ADDS), (5.0, NEAR.format("70 m"))])
def test_a_reason_names_an_anchor_within_reach_by_ground(height_m, said):
    """A row of buildings 10 m deep between the yard and the anchor, 30 m apart: 20 or 5 times the cost."""
    yards, breeding = line_of_squares([1.0, 10.0], roles=["candidate", "member"])
    breeding = breeding[breeding["state"] == "planned"]
    west = frame(shapely.box(-50, 0, -30, 20), name=["West"], host_share=[0.1], butterflies=["all"])
    layers = {
        "buildings": frame(shapely.box(-20, -300, -10, 320), height_m=[height_m]),
        "landcover": frame(shapely.box(-60, -300, 200, 320), cover=["meadow"]),
    }
    settings = {
        "distance": "by ground", "ground_cell_m": 1.0, "median_m": {BUTTERFLY: 150.0},
        "hop_max_m": {BUTTERFLY: 121.0}, "rank_draws": 0,
    }  # fmt: skip
    got = score(
        request(yards, breeding, anchors=west, butterflies=(BUTTERFLY,), layers=layers, connectivity=settings)
    )
    assert reasons(got) == [said]


def test_an_unknown_group_is_refused():
    made = asked()
    ground = ground_in(made.layers, (0.0, 0.0, 20.0, 20.0))
    with pytest.raises(LayerError, match="not a group"):
        ground.cost(CROSSING_COSTS, "desert")


def test_cells_grow_with_the_study():
    assert coarsest((0, 0, 1000, 1000), 2.0) == 2.0
    assert coarsest((0, 0, 50_000, 50_000), 1.0) == pytest.approx(10.0)

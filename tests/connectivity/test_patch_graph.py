"""Connectivity from frames alone: against networkx, by head arithmetic, and what is refused."""

import itertools
import math

import geopandas as gpd
import networkx as nx
import numpy as np
import pandas as pd
import pytest
import shapely

from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.patch_graph import (
    choose_patches,
    equivalent_connected_area,
    likeliest_chain,
    link_passage,
    link_patches,
    patch_importance,
)
from habitat.errors import CrsError, ParameterError
from habitat.grid import Grid

REACH = Reach(60.0)


@pytest.fixture(scope="module", params=[1, 2, 3])
def strewn(request):
    """Return patches strewn at random, their areas, links and passages."""
    rng = np.random.default_rng(request.param)
    xy, side = rng.uniform(0, 400, (12, 2)), rng.uniform(3, 20, 12)
    shapes = [shapely.box(x, y, x + s, y + s) for (x, y), s in zip(xy, side, strict=True)]
    names = [f"p{k}" for k in rng.permutation(12)]
    patches = gpd.GeoDataFrame({"area_m2": side**2}, geometry=shapes, index=names, crs=32617)
    links = link_patches(patches, REACH.longest_m)
    return patches, patches["area_m2"], links, link_passage(links, REACH)


def worth(area, links, passage, without=()):
    """Return sqrt(sum a_i a_j p*_ij) with shortest paths by networkx (Dijkstra on -ln p)."""
    graph = nx.Graph()
    graph.add_nodes_from(n for n in area.index if n not in without)
    for one, two, p in zip(links["from"], links["to"], passage, strict=True):
        if p > 0 and one in graph and two in graph:
            graph.add_edge(one, two, weight=-math.log(p))
    far = dict(nx.all_pairs_dijkstra_path_length(graph))
    return math.sqrt(sum(area[i] * area[j] * math.exp(-d) for i in far for j, d in far[i].items()))


def test_links_are_all_pairs_within_reach(strewn):
    patches, _, links, _ = strewn
    want = {
        frozenset(pair): d
        for pair in itertools.combinations(patches.index, 2)
        if (d := patches.geometry[pair[0]].distance(patches.geometry[pair[1]])) <= REACH.longest_m
    }
    got = {frozenset((a, b)): d for a, b, d in links[["from", "to", "distance_m"]].to_numpy()}
    assert got.keys() == want.keys()
    assert all(got[k] == pytest.approx(want[k], abs=1e-9) for k in want)
    assert links.length.to_numpy() == pytest.approx(links["distance_m"].to_numpy(), abs=1e-9)


def test_equivalent_area_is_that_of_shortest_paths(strewn):
    _, area, links, passage = strewn
    assert equivalent_connected_area(area, links, passage) == pytest.approx(worth(area, links, passage))


def test_importance_is_the_fall_without_the_patch(strewn):
    _, area, links, passage = strewn
    parts = patch_importance(area, links, passage)
    whole = worth(area, links, passage)
    fall = [whole - worth(area, links, passage, without={name}) for name in area.index]
    assert parts.index.equals(area.index)
    assert parts["total_m2"].to_numpy() == pytest.approx(fall, rel=1e-9, abs=1e-9)


def test_chain_is_the_likeliest_path(strewn):
    _, area, links, passage = strewn
    graph = nx.Graph()
    for one, two, p in zip(links["from"], links["to"], passage, strict=True):
        graph.add_edge(one, two, weight=-math.log(p))
    for one, two in itertools.combinations(area.index[:5], 2):
        chain = likeliest_chain(links, passage, one, two)
        if one not in graph or two not in graph or not nx.has_path(graph, one, two):
            assert chain.empty
            continue
        want = nx.dijkstra_path_length(graph, one, two)
        assert -np.log(chain["passage"]).sum() == pytest.approx(want)
        assert chain["step"].tolist() == list(range(1, len(chain) + 1))
        assert chain.loc[chain["weakest"], "passage"].item() == chain["passage"].min()


@pytest.mark.parametrize("number", [1, 2, 3])
def test_the_set_chosen_is_the_best_of_all(strewn, number):
    _, area, links, passage = strewn
    may_join = pd.Series(np.arange(len(area)) >= 6, area.index)
    got = choose_patches(area, links, passage, may_join, number)
    there = set(area.index[:6])
    every = set(area.index)
    best = max(
        worth(area, links, passage, without=every - there - set(some))
        for some in itertools.combinations(area.index[6:], number)
    )
    assert got["equivalent_area_m2"].iloc[-1] == pytest.approx(best)
    assert set(got.index) <= every - there


def test_money_limits_the_choice():
    area = pd.Series({"a": 5.0, "dear": 9.0, "cheap": 2.0})
    links = pd.DataFrame({"from": ["a", "a"], "to": ["dear", "cheap"]})
    may_join, costs = area.index != "a", pd.Series({"dear": 100.0, "cheap": 10.0, "a": 0.0})
    got = choose_patches(
        area, links, pd.Series([0.5, 0.5]), pd.Series(may_join, area.index), 2, costs=costs, budget=50.0
    )
    assert got.index.tolist() == ["cheap"]


def test_costs_of_crossing_make_links_longer():
    """A strip of cost 5 and 10 m wide between squares 30 m apart: 20 + 50 m, to a cell of 1 m."""
    patches = gpd.GeoDataFrame(geometry=[shapely.box(0, 0, 20, 20), shapely.box(50, 0, 70, 20)], crs=32617)
    grid = Grid.from_bounds((-10.0, -10.0, 80.0, 30.0), 1.0, patches.crs)
    cost = np.ones(grid.shape)
    cost[:, (grid.x > 30) & (grid.x < 40)] = 5.0
    assert link_patches(patches, 200.0, cost=cost, grid=grid)["distance_m"].item() == pytest.approx(70, abs=3)


@pytest.mark.parametrize("crs", [None, 4326, 2272])
def test_distances_need_metres(crs):
    patches = gpd.GeoDataFrame(geometry=[shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 1)], crs=crs)
    with pytest.raises(CrsError, match="to_crs"):
        link_patches(patches, 10.0)


AREA = pd.Series({"a": 1.0, "b": 2.0})
LINKS = pd.DataFrame({"from": ["a"], "to": ["b"]})


@pytest.mark.parametrize(
    ("area", "links", "passage", "match"),
    [
        (AREA, LINKS, [1.5], "passage"),
        (AREA, LINKS, [np.nan], "passage"),
        (-AREA, LINKS, [0.5], "area_m2"),
        (AREA, LINKS.assign(to="c"), [0.5], "labels of area_m2"),
        (AREA, pd.concat([LINKS, LINKS]), [0.5, 0.5], "each pair once"),
        (pd.Series([1.0, 2.0], ["a", "a"]), LINKS, [0.5], "label of its own"),
    ],
)
def test_what_cannot_be_is_refused(area, links, passage, match):
    with pytest.raises(ParameterError, match=match):
        equivalent_connected_area(area, links, pd.Series(passage))

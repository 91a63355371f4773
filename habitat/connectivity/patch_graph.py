"""Connectivity of patches from a frame of polygons: links, passage, equivalent area, importance, chains.

Frames in, frames and series on the input's index out; nothing is changed in place. A study's corridor is made
of the same parts (``habitat.connectivity.score``).
"""

from __future__ import annotations

import itertools
from collections.abc import Hashable

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from habitat.arrays import Floats
from habitat.connectivity.distance.least_cost import least_cost_links
from habitat.connectivity.distance.links import straight_links
from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.graph.chain import best_chain
from habitat.connectivity.graph.passages import Graph, passage_graph, without_dominated
from habitat.connectivity.invitations.gains import ChoiceGraph
from habitat.connectivity.invitations.search import choose
from habitat.connectivity.measures import connected_area
from habitat.errors import CrsError, ParameterError
from habitat.grid import Grid


def link_patches(
    patches: gpd.GeoDataFrame, longest_m: float, *, cost: Floats | None = None, grid: Grid | None = None
) -> gpd.GeoDataFrame:
    """Return the links between patches that lie within a distance of each other, edge to edge.

    Parameters
    ----------
    patches
        Polygons in a metric CRS, index without doubles; overlapping ones have distance 0.
    longest_m
        Longest link [m], more than 0; with ``cost`` in metres of ground of cost 1.
    cost
        (rows, cols) cost of crossing each cell, more than 0, infinity shuts it; None takes straight lines.
    grid
        Where the cells of ``cost`` lie.

    Returns
    -------
    GeoDataFrame
        A row per pair: ``from`` and ``to`` (labels of ``patches``), ``distance_m``, and the shortest line.

    Raises
    ------
    CrsError
        If the CRS is missing or not in metres.
    ParameterError
        If a patch is empty, the index has doubles, or cost and grid are not given together.

    Examples
    --------
    >>> squares = [shapely.box(x, 0, x + 10, 10) for x in (0, 40, 200)]
    >>> patches = gpd.GeoDataFrame(geometry=squares, index=["a", "b", "c"], crs=32617)
    >>> link_patches(patches, 100.0)[["from", "to", "distance_m"]].values.tolist()
    [['a', 'b', 30.0]]
    """
    _check(patches)
    shapes = patches.geometry.to_numpy()
    if (cost is None) != (grid is None):
        raise ParameterError("cost, grid", "only one of them", "both or neither")
    if cost is not None and grid is not None:
        found = least_cost_links(shapes, longest_m, cost, grid)
    else:
        found = straight_links(shapes, longest_m)
    names = patches.index.to_numpy()
    data = {"from": names[found.i], "to": names[found.j], "distance_m": found.distance_m}
    lines = shapely.shortest_line(shapes[found.i], shapes[found.j])
    return gpd.GeoDataFrame(data, geometry=lines, crs=patches.crs)


def link_passage(links: pd.DataFrame, reach: Reach) -> pd.Series[float]:
    """Return the chance (0-1) of getting across each link, on the links' index; 0 beyond the longest link.

    Parameters
    ----------
    links
        ``distance_m`` [m], as of ``link_patches``.
    reach
        How far the animal moves.

    Examples
    --------
    >>> link_passage(pd.DataFrame({"distance_m": [0.0, 100.0, 900.0]}), Reach(100.0)).round(3).tolist()
    [1.0, 0.5, 0.0]
    """
    far = links["distance_m"].to_numpy(float)
    return pd.Series(np.where(far <= reach.longest_m, reach.passage(far), 0.0), links.index, name="passage")


def equivalent_connected_area(
    area_m2: pd.Series[float], links: pd.DataFrame, passage: pd.Series[float]
) -> float:
    """Return the area of one patch that is worth as much as all of them with their links [m2].

    Parameters
    ----------
    area_m2
        Habitat of each patch [m2], 0 for a stepping stone; index as in ``from`` and ``to``.
    links
        ``from``, ``to``.
    passage
        Chance (0-1) of getting across each link.

    Notes
    -----
    sqrt(sum_i sum_j a_i a_j p*_ij), p*_ij the best product of passages over any path, p*_ii = 1.

    References
    ----------
    Saura, Estreguil, Mouton & Rodriguez-Freire 2011, Ecological Indicators 11:407-416.

    Raises
    ------
    ParameterError
        If a passage is not from 0 to 1, an area is negative, a link names no patch, or a pair stands twice.

    Examples
    --------
    >>> area, links = pd.Series({"a": 1.0, "b": 1.0}), pd.DataFrame({"from": ["a"], "to": ["b"]})
    >>> round(equivalent_connected_area(area, links, pd.Series([0.5])) ** 2, 12)
    3.0
    """
    graph, area = _graph(area_m2, links, passage)
    return connected_area.connect(without_dominated(graph)[0], area).equivalent_area_m2


def patch_importance(
    area_m2: pd.Series[float], links: pd.DataFrame, passage: pd.Series[float]
) -> pd.DataFrame:
    """Return by how much the equivalent connected area falls when a patch goes, in three parts [m2].

    Errors as of ``equivalent_connected_area``.

    Parameters
    ----------
    area_m2, links, passage
        As of ``equivalent_connected_area``.

    Returns
    -------
    DataFrame
        On the index of ``area_m2``: ``held_m2`` (its own ground), ``arriving_m2`` (what is linked to it),
        ``passing_m2`` (what gets past through it only), ``total_m2``; each 0 or more.

    References
    ----------
    Saura & Rubio 2010, Ecography 33:523-537.

    Examples
    --------
    >>> area, links = pd.Series([1.0, 0.0, 1.0]), pd.DataFrame({"from": [0, 1], "to": [1, 2]})
    >>> parts = patch_importance(area, links, pd.Series([0.5, 0.5]))
    >>> parts["passing_m2"].round(4).tolist()  # sqrt(2 + 2 / 4) - sqrt(2) for the stone between
    [0.0, 0.1669, 0.0]
    """
    graph, area = _graph(area_m2, links, passage)
    parts = connected_area.importance(graph, area)
    return pd.DataFrame(
        {
            "held_m2": parts.held_m2,
            "arriving_m2": parts.arriving_m2,
            "passing_m2": parts.passing_m2,
            "total_m2": parts.total_m2,
        },
        index=area_m2.index,
    )


def likeliest_chain(
    links: pd.DataFrame, passage: pd.Series[float], start: Hashable, end: Hashable
) -> pd.DataFrame:
    """Return the links of the path between two patches with the greatest product of passages, in order.

    Parameters
    ----------
    links, passage
        As of ``equivalent_connected_area``.
    start, end
        Labels of the two patches.

    Returns
    -------
    DataFrame
        Rows of ``links`` with ``passage``, ``step`` (1..) and ``weakest`` (the least passage; the first of
        equals); no rows where nothing joins the two.

    Raises
    ------
    ParameterError
        If start and end are one, or a passage is not from 0 to 1.

    Examples
    --------
    >>> links = pd.DataFrame({"from": [0, 1, 0], "to": [1, 2, 2]})
    >>> likeliest_chain(links, pd.Series([0.9, 0.5, 0.3]), 0, 2)["weakest"].tolist()
    [False, True]
    """
    if start == end:
        raise ParameterError("start, end", (start, end), "two different patches")
    names = pd.Index(pd.concat([links["from"], links["to"]]).unique())
    none = links.iloc[:0].assign(passage=[], step=[], weakest=[])
    if start not in names or end not in names:
        return none
    graph, _ = _graph(pd.Series(0.0, names), links, passage)
    chain = best_chain(graph, int(names.get_indexer([start])[0]), int(names.get_indexer([end])[0]))
    if chain is None:
        return none
    i, j = (names.get_indexer(pd.Index(links[end])) for end in ("from", "to"))
    number = {frozenset(pair): k for k, pair in enumerate(zip(i.tolist(), j.tolist(), strict=True))}
    rows = [number[frozenset(pair)] for pair in itertools.pairwise(chain.nodes)]
    steps = np.arange(len(rows))
    return links.iloc[rows].assign(
        passage=passage.to_numpy(float)[rows], step=steps + 1, weakest=steps == chain.weakest
    )


def choose_patches(
    area_m2: pd.Series[float],
    links: pd.DataFrame,
    passage: pd.Series[float],
    candidates: pd.Series[bool],
    number: int,
    *,
    costs: pd.Series[float] | None = None,
    budget: float | None = None,
) -> pd.DataFrame:
    """Return which candidates raise the equivalent connected area most, best first.

    Parameters
    ----------
    area_m2, links, passage
        Of all patches, candidates too, as of ``equivalent_connected_area``.
    candidates
        Whether each patch is one that may join; the others are there already. Index as ``area_m2``.
    number
        At most so many, 0 or more.
    costs, budget
        What each costs and what all may cost [money]; None does not limit it.

    Returns
    -------
    DataFrame
        Indexed by label: ``rank`` (1..), ``gain_m2``, ``equivalent_area_m2`` once it and those before joined.

    Notes
    -----
    Lazy greedy with exact gains, then exchange of one for another; where there are few sets all are tried.
    The gain is not submodular, as stepping stones help each other, so greedy alone has no guarantee.

    Examples
    --------
    >>> area = pd.Series({"a": 5.0, "b": 5.0, "far": 3.0, "between": 1.0})
    >>> links = pd.DataFrame({"from": ["a", "between"], "to": ["between", "b"]})
    >>> may_join = pd.Series({"a": False, "b": False, "far": True, "between": True})
    >>> choose_patches(area, links, pd.Series([0.9, 0.9]), may_join, 1).index.tolist()
    ['between']
    """
    graph, area = _graph(area_m2, links, passage)
    new = np.flatnonzero(candidates.reindex(area_m2.index).to_numpy(bool))
    there = np.setdiff1d(np.arange(graph.nodes), new)
    whole = connected_area.connect(without_dominated(graph)[0], area).equivalent_area_m2
    held = area.copy()
    held[new] = 0.0
    paid = np.zeros(graph.nodes) if costs is None else _floats(costs.reindex(area_m2.index))
    chosen = choose([ChoiceGraph(graph, there, held, new, area[new], whole, 1.0)], number, paid[new], budget)
    areas = chosen.areas_m2[:, 0]
    data = {
        "rank": np.arange(1, len(chosen.order) + 1),
        "gain_m2": np.diff(areas),
        "equivalent_area_m2": areas[1:],
    }
    return pd.DataFrame(data, index=area_m2.index[new[list(chosen.order)]])


def _floats(values: pd.Series[float]) -> Floats:
    return np.asarray(values.to_numpy(float), np.float64)


def _check(patches: gpd.GeoDataFrame) -> None:
    crs = patches.crs
    if crs is None or not crs.is_projected or any(a.unit_conversion_factor != 1.0 for a in crs.axis_info):
        have = "have no CRS" if crs is None else f"are in {crs.to_string()}, which is not in metres"
        mend = "Set it if missing, then reproject with to_crs()"
        raise CrsError(f"the patches {have}", "link_patches", mend)
    if not patches.index.is_unique:
        raise ParameterError("patches", "an index with doubles", "a label of its own for each patch")


def _graph(area_m2: pd.Series[float], links: pd.DataFrame, passage: pd.Series[float]) -> tuple[Graph, Floats]:
    """Return the graph of passages over the patches' positions, and their areas."""
    names, area = area_m2.index, _floats(area_m2)
    if not names.is_unique:
        raise ParameterError("area_m2", "an index with doubles", "a label of its own for each patch")
    if np.any(~(area >= 0.0)):
        raise ParameterError("area_m2", float(area[~(area >= 0.0)][0]), "0 or more [m2]")
    i, j = (names.get_indexer(pd.Index(links[end])) for end in ("from", "to"))
    if np.any(i < 0) or np.any(j < 0):
        raise ParameterError("links", "a link to no patch", "labels of area_m2 in from and to")
    if len({frozenset(pair) for pair in zip(i.tolist(), j.tolist(), strict=True)}) < len(i):
        raise ParameterError("links", "a pair of patches twice", "each pair once")
    chance = passage.to_numpy(float)
    if np.any(~((chance >= 0.0) & (chance <= 1.0))):
        raise ParameterError("passage", float(chance[~((chance >= 0) & (chance <= 1))][0]), "0 to 1")
    with np.errstate(divide="ignore"):
        weight = np.maximum(-np.log(chance), 0.0)
    return passage_graph(len(names), i, j, weight), area

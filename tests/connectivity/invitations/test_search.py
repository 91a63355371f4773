"""Choosing whom to invite against trying every set; the bound, money, and stones that help each other."""

import itertools
import math

import numpy as np
import pytest

from habitat.connectivity.graph.passages import passage_graph
from habitat.connectivity.invitations import search as invitations
from habitat.connectivity.invitations.gains import ChoiceGraph, Joint, LazyGains, PassageMatrix
from habitat.connectivity.invitations.search import Aim, alone_in, bound_of, choose, estimate, greedy_order
from habitat.connectivity.measures.connected_area import connect
from habitat.errors import ParameterError


def problem(seed, here=8, candidates=6, butterflies=2):
    """Return graphs of a random study; every third candidate adds to ground that stands already."""
    rng = np.random.default_rng(seed)
    n = here + candidates
    graphs = []
    for _ in range(butterflies):
        xy = rng.uniform(0, 400, (n, 2))
        area = rng.uniform(0, 20, n) * (rng.random(n) < 0.8)
        node, extra = np.arange(here, n), area[here:].copy()
        base_area = np.where(np.arange(n) < here, area, 0.0)
        for c in range(0, candidates, 3):
            xy[here + c] = xy[c]
        i, j = np.array(list(itertools.combinations(range(n), 2))).T
        d = np.hypot(*(xy[i] - xy[j]).T)
        near = d < 180
        graph = passage_graph(n, i[near], j[near], d[near] / 90)
        whole = connect(graph, area).equivalent_area_m2
        node = np.where(rng.random(candidates) < 0.15, -1, node)
        graphs.append(
            ChoiceGraph(graph, np.arange(here), base_area, node, extra, whole, float(rng.uniform(0.5, 2)))
        )
    return graphs


def plain_score(graphs, picks):
    """Return the joint score of a set, worked out from nothing."""
    total = sum(s.weight for s in graphs if s.whole_m2 > 0)
    score = 0.0
    for s in graphs:
        if s.whole_m2 <= 0:
            continue
        keep = np.zeros(s.graph.nodes, bool)
        keep[s.base] = True
        area = s.area_m2.copy()
        for c in picks:
            if s.node[c] >= 0:
                keep[s.node[c]] = True
                area[s.node[c]] = s.extra_m2[c]
        got = connect(s.graph.subset(keep), area[keep]).equivalent_area_m2
        score += s.weight / total * got / s.whole_m2
    return score


def plain_areas(graphs, picks):
    """Return the equivalent connected area of each butterfly with a set, worked out from nothing."""
    return np.array([plain_score([s], picks) * s.whole_m2 for s in graphs])


def best_by_trying(graphs, number, costs, budget):
    sets = (
        picks
        for size in range(number + 1)
        for picks in itertools.combinations(range(len(costs)), size)
        if budget is None or costs[list(picks)].sum() <= budget + 1e-9
    )
    return max(plain_score(graphs, picks) for picks in sets)


@pytest.mark.parametrize("seed", range(15))
@pytest.mark.parametrize("budget", [None, 20.0])
def test_small_cases_equal_trying_every_set(seed, budget):
    graphs = problem(seed)
    costs = np.random.default_rng(seed).uniform(4, 12, 6)
    got = choose(graphs, 3, costs, budget)
    assert got.proven
    assert got.scores[-1] == pytest.approx(best_by_trying(graphs, 3, costs, budget), rel=1e-9)
    assert got.bound == got.scores[-1]
    assert budget is None or costs[list(got.order)].sum() <= budget


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("budget", [None, 20.0])
def test_search_without_trying_every_set(seed, budget, monkeypatch):
    """Greedy plus exchange: never above the best, never above the bound, and near the best."""
    monkeypatch.setattr(invitations, "ENUMERATE_UP_TO", 0)
    graphs = problem(seed)
    costs = np.random.default_rng(seed).uniform(4, 12, 6)
    got, best = choose(graphs, 3, costs, budget), best_by_trying(graphs, 3, costs, budget)
    assert not got.proven
    assert best * (1 - 0.01) <= got.scores[-1] <= best * (1 + 1e-9)
    assert got.bound >= best * (1 - 1e-9)


@pytest.mark.parametrize("seed", range(15))
def test_scores_on_the_way_are_those_of_the_sets(seed):
    graphs = problem(seed)
    got = choose(graphs, 4, np.ones(6))
    for k in range(len(got.order) + 1):
        assert got.scores[k] == pytest.approx(plain_score(graphs, got.order[:k]), rel=1e-9)
    assert (np.diff(got.scores) >= -1e-12).all()


@pytest.mark.parametrize("seed", range(10))
def test_everyone_invited_is_the_whole(seed):
    graphs = [s for s in problem(seed) if (s.node >= 0).all()]
    if graphs:
        got = choose(graphs, 6, np.ones(6))
        assert got.scores[-1] == pytest.approx(1.0, rel=1e-9)


def strewn(seed, wide, n=30, m=20):
    """Return a choice of places in a strip (some out of reach of others) or in a square (all in reach)."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 1, (n + m, 2)) * (np.array([3000, 60]) if wide else np.array([250, 250]))
    i, j = np.array(list(itertools.combinations(range(n + m), 2))).T
    d = np.hypot(*(xy[i] - xy[j]).T)
    near = d < 120
    graph = passage_graph(n + m, i[near], j[near], d[near] / 40)
    area = rng.uniform(1, 9, n + m)
    there = np.where(np.arange(n + m) < n, area, 0)
    return ChoiceGraph(graph, np.arange(n), there, np.arange(n, n + m), area[n:], 100.0, 1.0, 1e-4)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("wide", [True, False])
def test_limits_hold_and_the_best_is_the_best_tried_anew(seed, wide):
    """Between rounds gains are upper limits, exact where they say so; the pick is that of trying all anew."""
    m = 20
    joint = Joint([strewn(seed, wide), strewn(seed + 50, wide)], m)
    lazy, able = LazyGains(joint, m), np.ones(m, bool)
    costs = np.random.default_rng(seed).uniform(1, 3, m)
    for turn in range(9):
        fresh = [part.gains(np.arange(m)) for part in joint.parts]
        for kept, anew in zip(lazy.gains, fresh, strict=True):
            assert (kept[able] >= anew[able] * (1 - 1e-12)).all()
            assert kept[able & lazy.exact] == pytest.approx(anew[able & lazy.exact], rel=1e-12)
        now = np.array([part.numerator for part in joint.parts])
        worth = sum(
            w * (np.sqrt(p + g) - np.sqrt(p)) for w, p, g in zip(joint.weights, now, fresh, strict=True)
        ) / (costs if turn % 2 else 1.0)
        worth[~able] = -np.inf
        pick, most = lazy.best(able, costs if turn % 2 else None)
        assert (pick, most) == (int(np.argmax(worth)), pytest.approx(worth.max(), rel=1e-9))
        assert lazy.best(able, costs if turn % 2 else None, above=most) == (-1, most)
        lazy.join(pick)
        able[pick] = False


@pytest.mark.parametrize("seed", range(10))
def test_growing_equals_starting_anew(seed):
    graphs = problem(seed, butterflies=1)
    grown = PassageMatrix(graphs[0], 6)
    for c in (4, 0, 2):
        gain = grown.gains(np.array([c]))
        before = grown.numerator
        grown.join(c)
        assert grown.numerator == pytest.approx(before + gain[0], rel=1e-12)
    area = grown.area[: grown.count]
    assert grown.numerator == pytest.approx(
        float(area @ grown.best[: grown.count, : grown.count] @ area), rel=1e-9
    )
    weights = graphs[0].weight / graphs[0].whole_m2 / graphs[0].weight
    assert weights * math.sqrt(grown.numerator) == pytest.approx(plain_score(graphs, (4, 0, 2)), rel=1e-9)


def two_stones():
    """Two far patches that only both stones together join; two candidates with a little ground."""
    x = np.array([0.0, 300.0, 100.0, 200.0, -20.0, 320.0])
    i, j = np.array(list(itertools.combinations(range(6), 2))).T
    d = np.abs(x[i] - x[j])
    near = d <= 110
    graph = passage_graph(6, i[near], j[near], d[near] / 400)
    area = np.array([50.0, 50, 0, 0, 3.0, 3.0])
    whole = connect(graph, area).equivalent_area_m2
    base = np.array([0, 1])
    return [
        ChoiceGraph(graph, base, np.where(np.arange(6) < 2, area, 0), np.arange(2, 6), area[2:], whole, 1.0)
    ]


def test_stones_that_help_only_together_are_found_by_trying_every_set():
    assert sorted(choose(two_stones(), 2, np.ones(4)).order) == [0, 1]
    assert sorted(greedy_order(two_stones(), 2)) == [2, 3]


def test_the_bound_holds_where_greedy_is_blind(monkeypatch):
    monkeypatch.setattr(invitations, "ENUMERATE_UP_TO", 0)
    got = choose(two_stones(), 2, np.ones(4))
    assert got.bound >= plain_score(two_stones(), (0, 1)) - 1e-12


@pytest.mark.parametrize("seed", range(15))
@pytest.mark.parametrize("budget", [None, 15.0])
def test_bound_is_above_the_best_whatever_it_starts_from(seed, budget):
    graphs = problem(seed, butterflies=3)
    costs = np.random.default_rng(seed).uniform(2, 9, 6)
    best = best_by_trying(graphs, 3, costs, budget)
    for start in (0.2, 1.0):
        found = np.array([max(s.whole_m2, 1e-6) * start for s in graphs])
        assert bound_of(graphs, 3, costs, budget, found) >= best * (1 - 1e-9)


def test_the_bound_counts_every_friend_that_may_join_too():
    """Three yards of 2 m2 in one place are worth 6 m2, which is the whole: no bound may lie below 1."""
    i, j = np.array([1, 1, 2]), np.array([2, 3, 3])
    graph = passage_graph(4, i, j, np.full(3, 1e-9))
    choice = ChoiceGraph(graph, np.array([0]), np.zeros(4), np.arange(1, 4), np.full(3, 2.0), 6.0, 1.0)
    assert bound_of([choice], 3, np.ones(3), None, np.array([6.0])) == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize(("work", "ends"), [(10.0, False), (1e9, True)])
def test_exchange_is_left_out_where_it_takes_too_much_work(work, ends, monkeypatch):
    """A pass takes nodes^2 x picks x (candidates + picks) steps, here some hundreds."""
    monkeypatch.setattr(invitations, "ENUMERATE_UP_TO", 0)
    monkeypatch.setattr(invitations, "EXCHANGE_WORK", work)
    assert choose(problem(0), 3, np.ones(6)).exchanged is ends


def test_equal_candidates_go_by_their_order():
    x = np.array([0.0, 50.0, -50.0])
    graph = passage_graph(
        3, np.array([0, 0, 1]), np.array([1, 2, 2]), np.abs(x[[0, 0, 1]] - x[[1, 2, 2]]) / 50
    )
    choice = ChoiceGraph(
        graph, np.array([0]), np.array([5.0, 0, 0]), np.array([1, 2]), np.array([4.0, 4.0]), 13.0, 1.0
    )
    assert choose([choice], 1, np.ones(2)).order == (0,)
    assert greedy_order([choice], 2) == [0, 1]


def test_an_estimate_orders_by_what_each_adds_alone_and_says_so():
    graphs = problem(3, butterflies=1)
    got = estimate([alone_in(g) for g in graphs], 3, np.ones(6))
    assert got.estimated
    assert len(got.order) == 3
    exact = PassageMatrix(graphs[0], 6).gains(np.arange(6))
    first = math.sqrt(PassageMatrix(graphs[0], 6).numerator + exact[got.order[0]])
    assert got.areas_m2[1, 0] <= first * (1 + 1e-9)


def test_an_estimate_counts_the_nearest_link_of_a_candidate():
    """Two patches of 50 m2, no link, one of 3 at 20 m: 50^2 + 50^2 + 3^2 + 2 x 3 x 50 exp(-20 / 400)."""
    got = estimate([alone_in(g) for g in two_stones()], 1, np.ones(4))
    assert got.order == (2,)
    assert got.areas_m2[1, 0] == pytest.approx(math.sqrt(5009.0 + 300.0 * math.exp(-0.05)), rel=1e-9)


@pytest.mark.parametrize(("number", "costs", "budget"), [(0, 6, None), (3, 0, None), (3, 6, 0.5)])
def test_nobody_to_invite(number, costs, budget):
    graphs = problem(1) if costs else []
    got = choose(graphs, number, np.ones(costs), budget)
    assert got.order == ()
    assert len(got.scores) == 1


def test_costs_below_nothing_are_refused():
    with pytest.raises(ParameterError, match="0 or more"):
        choose(problem(1), 2, np.array([1.0, -2.0, 1, 1, 1, 1]))


@pytest.mark.parametrize("seed", range(8))
def test_by_money_each_next_one_adds_most_for_its_own(seed):
    """Against the plain score of each yard beside those before it, divided by what its plan costs."""
    graphs, per = problem(seed), np.random.default_rng(seed).uniform(1, 30, 6)
    order = list(choose(graphs, 4, np.ones(6), aim=Aim(per)).order)
    assert len(order) == 4
    for k, picked in enumerate(order):
        now = plain_score(graphs, order[:k])
        worth = {
            c: (plain_score(graphs, [*order[:k], c]) - now) / per[c] for c in range(6) if c not in order[:k]
        }
        assert worth[picked] == pytest.approx(max(worth.values()), rel=1e-9, abs=1e-15)
    assert order == greedy_order(graphs, 4, Aim(per))


@pytest.mark.parametrize("seed", range(8))
def test_spread_is_the_best_mean_logarithm_of_any_set(seed):
    """Tried over every set: the mean of log(1 m2 + area), butterflies by their weights."""
    graphs = problem(seed)
    weights = np.array([s.weight for s in graphs]) / sum(s.weight for s in graphs)
    got = choose(graphs, 3, np.ones(6), aim=Aim(spread=True))
    best = max(float(weights @ np.log1p(plain_areas(graphs, p))) for p in itertools.combinations(range(6), 3))
    assert float(weights @ np.log1p(plain_areas(graphs, got.order))) == pytest.approx(best, rel=1e-9)
    assert not got.proven
    assert got.bound >= got.scores[-1]


def test_spread_helps_the_butterfly_that_has_least():
    """One place holds 400 m2 for the first butterfly and 1 m2 for the second; a yard adds 20 m2 or 2 m2."""
    graphs = []
    for here, comes in ((400.0, (20.0, 0.0)), (1.0, (0.0, 2.0))):
        graph = passage_graph(3, np.array([0, 0]), np.array([1, 2]), np.array([0.0, 0.0]))
        whole = here + sum(comes)
        graphs.append(
            ChoiceGraph(
                graph, np.array([0]), np.array([here, 0, 0]), np.array([1, 2]), np.array(comes), whole, 1.0
            )
        )
    graphs[1] = ChoiceGraph(
        *[getattr(graphs[1], f) for f in ("graph", "base", "area_m2", "node", "extra_m2")], 1e3, 1.0
    )
    assert choose(graphs, 1, np.ones(2)).order == (0,)
    assert choose(graphs, 1, np.ones(2), aim=Aim(spread=True)).order == (1,)


@pytest.mark.parametrize("spread", [False, True])
def test_what_one_more_adds_to_the_joint_score_is_the_score_with_it_less_that_without(spread):
    graphs = problem(4, butterflies=3)
    start = Joint(graphs, 2, spread=spread)
    told = start.worth_gains([part.gains(np.arange(6)) for part in start.parts])
    for candidate in range(6):
        joined = start.copy()
        joined.join(candidate)
        assert told[candidate] == pytest.approx(joined.worth - start.worth, rel=1e-9, abs=1e-12)

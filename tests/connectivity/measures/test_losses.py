"""What is lost with a patch, sampled within its stated error."""

import numba
import numpy as np
import pytest

from habitat.connectivity.case import StateGraph
from habitat.connectivity.graph.passages import passage_graph, without_dominated
from habitat.connectivity.measures import losses as losses_module
from habitat.connectivity.measures.connected_area import connect, importance


@pytest.mark.skipif(numba.config.DISABLE_JIT, reason="takes an hour without compiled loops")
def test_sampled_losses_lie_within_their_stated_error():
    """400 places: estimates from a sample against the exact figures."""
    state, may_go, carried = scattered(400)
    exact = losses_module.losses(state, may_go, carried, 3)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(losses_module, "EXACT_UP_TO", 100)
        patch.setattr(losses_module, "ANEW_UP_TO", 100)
        patch.setattr(losses_module, "SAMPLED_SOURCES", 200)
        guess = [losses_module.losses(state, may_go, carried, seed) for seed in range(8)]
        patch.setattr(losses_module, "EXACT_UP_TO", 1000)
        fixed = losses_module.losses(state, may_go, carried, 3)
    assert (exact["sampled"], exact["anew"], fixed["anew"]) == (False, True, False)
    assert all(g["sampled"] for g in guess)
    off = np.array([np.subtract(g["worst_first"], fixed["worst_first"]) for g in guess])
    error = np.array([g["error"] for g in guess])[:, None]
    assert (np.abs(off) < 2.6 * error).mean() > 0.95
    assert (error < 0.05).all()
    assert np.abs(off.mean(axis=0)).max() < error.mean(), "no bias to speak of"
    random = np.mean([g["random_mean"] for g in guess], axis=0)
    assert random == pytest.approx(exact["random_mean"], abs=0.02)


def scattered(n):
    """Return a state of places over a square, who may go, and what each carries."""
    rng = np.random.default_rng(4)
    xy, area = rng.uniform(0, 1500, (n, 2)), rng.uniform(1, 20, n) ** 2 / 20
    i, j = np.triu_indices(n, 1)
    d = np.hypot(*(xy[i] - xy[j]).T)
    near = d < 150
    graph = passage_graph(n, i[near], j[near], d[near] / 90)
    state = StateGraph(np.arange(n), graph, without_dominated(graph)[0], area, 1e-4)
    return state, np.arange(n) > 3, importance(graph, area, 1e-4).total_m2


def test_orders_differ_and_each_loses_only_what_may_go():
    """Ten orders at random: their 5th and 95th percentile lie apart, and the mean between them."""
    state, may_go, carried = scattered(60)
    found = losses_module.losses(state, may_go, carried, 3)
    low, mean, high = (np.array(found[f"random_{name}"]) for name in ("low", "mean", "high"))
    assert (low < mean).all()
    assert (mean < high).all()
    assert (np.array(found["worst_first"]) < mean).all()
    assert losses_module.losses(state, may_go, carried, 4)["random_mean"] != found["random_mean"]
    stay = np.arange(60) == 7
    alone = losses_module.losses(state, stay, carried, 3)
    whole = connect(state.graph, state.area_m2, state.cut).numerator
    keep = ~stay
    less = connect(without_dominated(state.full.subset(keep))[0], state.area_m2[keep], state.cut).numerator
    assert alone["random_mean"][-1] in (1.0, pytest.approx(np.sqrt(less / whole)))


def test_the_error_of_a_ratio_is_that_of_the_delta_method():
    """Two sources, by hand: ratio 0.04, residuals -0.01 and 0.01; 0.01 / (2 x 0.2) is that of its root."""
    share, error = losses_module._ratio(np.ones(2), np.array([0.03, 0.05]), np.ones(2, int))
    assert (share, error) == pytest.approx((0.2, 0.025))

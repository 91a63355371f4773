"""The compiled pass against its slow twin, and its properties."""

import dataclasses
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from habitat.errors import NotFoundError, ParameterError
from habitat.factors import FACTORS
from habitat.knowledge import load_knowledge
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability import compile_needs, fit
from habitat.suitability._kernels import BLOCK
from habitat.suitability.fit import score
from habitat.suitability.needs import trapezium_params
from habitat.suitability.types import NO_LIMIT, Needs
from tests.suitability.twin import slow_scores

NEEDS = FACTORS.names
WAYS = ("scarcest", "geometric", "square_root")
KNOWLEDGE = load_knowledge(KnowledgeSettings())
SIX = NEEDS[:6]


def real_needs(combine="scarcest", assessed=SIX, **more):
    return compile_needs(KNOWLEDGE, SuitabilitySettings(combine=combine, **more), assessed)


def random_values(names, shape, seed, holes=0.0):
    rng = np.random.default_rng(seed)
    out = {}
    for name in names:
        first, last = FACTORS[name].possible
        x = rng.uniform(first, last, shape)
        x = np.rint(x) if name in ("drainage", "texture") else x
        out[name] = np.where(rng.random(shape) < holes, np.nan, x).astype(np.float32)
    return out


def made_needs(ranges, combine="scarcest", weights=None, names=SIX):
    """Return needs from (plants, factors, 4) ranges."""
    plants, factors = ranges.shape[:2]
    names = names[:factors]
    full = np.full((plants, len(NEEDS), 4), np.nan)
    full[:, : len(names)] = ranges
    tables = {
        "params": trapezium_params(ranges),
        "worst": np.zeros((plants, factors), np.float32),
        "best": np.ones((plants, factors), np.float32),
        "codes": np.arange(factors, dtype=np.uint8),
        "weights": np.ones(factors, np.float32) if weights is None else np.asarray(weights, np.float32),
        "ranges": full,
        "stated": ~np.isnan(full).any(-1),
    }
    titles = tuple(f"plant {i}" for i in range(plants))
    return Needs(titles, names, (), combine, (0.75, 0.5, 0.25), np.zeros(plants), tables)


@pytest.mark.parametrize("combine", WAYS)
@pytest.mark.parametrize(
    ("holes", "weights"), [(0.0, {}), (0.02, {}), (0.0, {"ph": 0.0}), (0.02, {"ph": 0.0})]
)
def test_bytes_equal_the_twins(combine, holes, weights):
    needs = real_needs(combine, weights=weights)
    values = random_values(SIX, (37, 61), 3, holes)
    found = fit(needs, values)
    assert found.low.shape == (len(needs.plants), 37, 61)
    for p, plant in enumerate(needs.plants):
        low, high, limiting = slow_scores(needs, plant, values)
        for bytes_, expected in ((found.low[p], low), (found.high[p], high)):
            off = np.abs(bytes_ - expected * 255)
            assert off.max() <= 0.5 + (1e-2 if combine == "geometric" else 1e-3)  # roots of little
        wrong = found.limiting[p] != limiting
        assert wrong.mean() < 1e-3  # only where two needs are level to the last bit


@pytest.mark.parametrize("combine", WAYS)
@pytest.mark.parametrize("holes", [False, True])
def test_at_the_ends_of_its_ranges_a_plant_has_nothing_or_all(combine, holes):
    """One factor at an end of a range in the tables, the others in full range: 0 at outer ends, else 1."""
    needs = real_needs(combine, NEEDS)
    for p, plant in enumerate(needs.plants):
        ends = needs.tables["ranges"][p]
        inside = np.where(
            np.isfinite(ends[:, 1]), ends[:, 1], np.where(np.isfinite(ends[:, 2]), ends[:, 2], 5)
        )
        factor, end = np.nonzero(np.isfinite(ends))
        cells = np.tile(inside.astype(np.float32), (len(factor), 1))
        cells[np.arange(len(factor)), factor] = ends[factor, end]
        if holes:  # such a cell is worked another way; what it lacks is the afternoon sun, or sun
            cells[np.arange(len(factor)), np.where(factor == len(NEEDS) - 1, 0, len(NEEDS) - 1)] = np.nan
        values = {name: cells[None, :, f] for f, name in enumerate(NEEDS)}
        one = needs.subset([plant])
        full = ends[:, 1:3][factor]  # an outer end may lie where full range begins
        best = (ends[factor, end] == full[:, 0]) | (ends[factor, end] == full[:, 1])
        assert np.array_equal(fit(one, values).high[0, 0], np.where(best, 255, 0)), plant
        assert np.allclose(score(one, plant, values).high[0], best, atol=1e-5), plant


@pytest.mark.parametrize("count", range(1, len(NEEDS) + 1))
@pytest.mark.parametrize("combine", WAYS)
def test_bytes_equal_the_twins_with_any_number_of_factors(combine, count):
    """Factors are worked in threes; whatever is left over must neither count twice nor go missing."""
    needs = real_needs(combine, assessed=NEEDS[-count:])
    values = random_values(needs.assessed, (3, BLOCK // 2), 30 + count)
    found = fit(needs, values)
    for p in range(0, len(needs.plants), 11):
        low, _, limiting = slow_scores(needs, needs.plants[p], values)
        assert np.abs(found.low[p] - low * 255).max() <= 0.5 + (1e-2 if combine == "geometric" else 1e-3)
        assert (found.limiting[p] != limiting).mean() < 1e-3


@pytest.mark.parametrize("combine", WAYS)
def test_unrounded_scores_equal_the_twins(combine):
    needs = real_needs(combine, weights={"ph": 2.0, "texture": 0.5})
    values = random_values(SIX, (23, 29), 4, 0.05)
    for plant in needs.plants[::13]:
        low, high, limiting = slow_scores(needs, plant, values)
        found = score(needs, plant, values)
        assert np.allclose(found.low, low, atol=1e-12)
        assert np.allclose(found.high, high, atol=1e-12)
        assert (found.limiting == limiting).mean() > 0.999


def test_bytes_are_the_rounded_scores():
    needs, values = real_needs(), random_values(SIX, (50, 60), 5, 0.01)
    found = fit(needs, values)
    for p in range(0, len(needs.plants), 17):
        exact = score(needs, needs.plants[p], values)
        for bytes_, s in ((found.low[p], exact.low), (found.high[p], exact.high)):
            assert (np.abs(bytes_ - s * 255) <= 0.5 + 1e-4).all()


def test_everything_known_shares_one_array():
    needs = real_needs()
    found = fit(needs, random_values(SIX, (5, 7), 6))
    assert found.high is found.low


def test_a_factor_without_values_is_unknown_everywhere():
    needs = real_needs(assessed=("sun_h", "ph"))
    values = random_values(("sun_h",), (4, 4), 7)
    found = fit(needs, values)
    assert (found.low <= found.high).all()
    assert (found.low < found.high).any()
    assert (found.low == 0).all()  # pH could be anything


def test_nothing_assessed_limits_nothing():
    needs = real_needs(assessed=())
    found = fit(needs, {}, shape=(2, 3))
    assert (found.low == 255).all()
    assert (found.limiting == NO_LIMIT).all()
    assert score(needs, needs.plants[0], {}, shape=(2, 3)).low.shape == (2, 3)


def test_ties_at_nothing_name_the_need_furthest_out():
    ranges = np.array([[[4.0, 5.0, 6.0, 7.0], [4.0, 5.0, 6.0, 7.0]]])
    needs = made_needs(ranges)
    cell = {"sun_h": np.array([[8.0, 3.5, 3.0]], np.float32), "ph": np.array([[7.5, 2.0, 3.0]], np.float32)}
    found = fit(needs, cell)
    assert (found.low == 0).all()
    assert found.limiting[0, 0].tolist() == [0, 1, 0]  # one ramp out against half; level: the fixed order


def test_full_scores_name_no_limit():
    needs = made_needs(np.array([[[4.0, 5.0, 6.0, 7.0]]]))
    found = fit(needs, {"sun_h": np.array([[5.0, 6.0, 5.5]], np.float32)})
    assert found.low[0, 0].tolist() == [255] * 3
    assert found.limiting[0, 0].tolist() == [NO_LIMIT] * 3


def test_a_side_without_a_ramp_is_a_wall():
    needs = made_needs(np.array([[[5.0, 5.0, 6.0, 6.0]]]))
    x = np.array(
        [[np.nextafter(np.float32(5), np.float32(0)), 5.0, 6.0, np.nextafter(np.float32(6), np.float32(9))]]
    )
    assert fit(needs, {"sun_h": x.astype(np.float32)}).low[0, 0].tolist() == [0, 255, 255, 0]


def test_wrong_shapes_and_names():
    needs = real_needs(assessed=("sun_h", "ph"))
    with pytest.raises(ParameterError, match="one shape"):
        fit(needs, {"sun_h": np.zeros((2, 2), np.float32), "ph": np.zeros((2, 3), np.float32)})
    with pytest.raises(ParameterError, match="one shape"):
        fit(needs, {})
    with pytest.raises(NotFoundError, match="nothing like it"):
        score(needs, "nothing like it", {"sun_h": np.zeros((2, 2), np.float32)})


# --- properties -----------------------------------------------------------------------------------

numbers = st.floats(0, 10, width=32)


@st.composite
def made(draw, combine=None, holes=True):
    factors, plants = draw(st.integers(1, 5)), draw(st.integers(1, 3))
    flat = [sorted(draw(st.lists(numbers, min_size=4, max_size=4))) for _ in range(plants * factors)]
    ranges = np.array(flat, np.float32).astype(float).reshape(plants, factors, 4)
    way = combine or draw(st.sampled_from(WAYS))
    weights = draw(st.lists(st.sampled_from([0.0, 0.5, 1.0, 3.0]), min_size=factors, max_size=factors))
    needs = made_needs(ranges, way, weights)
    element = st.one_of(numbers, st.just(np.nan)) if holes else numbers
    values = {n: draw(arrays(np.float32, (2, 3), elements=element)) for n in needs.assessed}
    return needs, values


@settings(max_examples=120, deadline=None)
@given(made())
def test_scores_lie_between_nothing_and_one(case):
    needs, values = case
    for plant in needs.plants:
        found = score(needs, plant, values)
        assert ((found.low >= 0) & (found.low <= found.high) & (found.high <= 1)).all()


@settings(max_examples=120, deadline=None)
@given(made(), st.integers(0, 3), st.floats(0, 5, width=32))
def test_widening_a_range_never_lowers_a_score(case, end, by):
    needs, values = case
    wider = needs.tables["ranges"][:, : len(needs.assessed)].copy()
    wider[..., end] += -by if end < 2 else by
    wider[..., 0] = np.minimum(wider[..., 0], wider[..., 1])
    wider[..., 3] = np.maximum(wider[..., 3], wider[..., 2])
    other = made_needs(wider, needs.combine, needs.tables["weights"])
    for plant in needs.plants:
        before, after = score(needs, plant, values), score(other, plant, values)
        assert (after.low >= before.low - 1e-5).all()


@settings(max_examples=120, deadline=None)
@given(made(combine="scarcest"))
def test_the_scarcest_need_is_at_most_the_geometric_mean(case):
    needs, values = case
    mean = dataclasses.replace(needs, combine="geometric")
    root = dataclasses.replace(needs, combine="square_root")
    for plant in needs.plants:
        least = score(needs, plant, values).low
        assert (least <= score(mean, plant, values).low + 1e-5).all()
        assert (score(root, plant, values).low <= least + 1e-5).all()


@settings(max_examples=100, deadline=None)
@given(made(holes=False), st.data())
def test_unknown_never_beats_known_good_and_brackets_the_truth(case, data):
    needs, values = case
    hole = data.draw(st.sampled_from(needs.assessed))
    holed = values | {hole: np.full((2, 3), np.nan, np.float32)}
    for plant in needs.plants:
        known, unknown = score(needs, plant, values), score(needs, plant, holed)
        assert (unknown.low <= known.low + 1e-6).all()
        assert (unknown.high >= known.low - 1e-6).all()


@settings(max_examples=60, deadline=None)
@given(made(), st.randoms())
def test_the_order_of_layers_changes_nothing(case, random):
    needs, values = case
    names = list(values)
    random.shuffle(names)
    one, other = fit(needs, values), fit(needs, {n: values[n] for n in names})
    assert np.array_equal(one.low, other.low)
    assert np.array_equal(one.limiting, other.limiting)


@pytest.mark.parametrize("combine", WAYS)
@pytest.mark.parametrize("holes", [0.0, 1e-4])
def test_tiling_changes_nothing(combine, holes):
    needs = real_needs(combine)
    shape = (2, BLOCK + 77)
    values = random_values(SIX, shape, 8, holes)
    whole = fit(needs, values)
    for cols in (slice(0, 5), slice(5, 600), slice(600, None)):
        part = fit(needs, {n: v[:, cols] for n, v in values.items()})
        assert np.array_equal(part.low, whole.low[:, :, cols])
        assert np.array_equal(part.high, whole.high[:, :, cols])
        assert np.array_equal(part.limiting, whole.limiting[:, :, cols])


@settings(max_examples=60, deadline=None)
@given(made(), st.integers(0, 3), st.integers(0, 2))
def test_any_cut_into_tiles_changes_nothing(case, col, row):
    needs, values = case
    whole = fit(needs, values)
    for rows in (slice(0, row), slice(row, 2)):
        for cols in (slice(0, col), slice(col, 3)):
            if not values[needs.assessed[0]][rows, cols].size:
                continue
            part = fit(needs, {n: v[rows, cols] for n, v in values.items()})
            assert np.array_equal(part.low, whole.low[:, rows, cols])
            assert np.array_equal(part.high, whole.high[:, rows, cols])
            assert np.array_equal(part.limiting, whole.limiting[:, rows, cols])


@settings(max_examples=120, deadline=None)
@given(made(holes=False))
def test_the_limiting_need_is_the_furthest_out_and_the_first_of_equals(case):
    """How far out: ramps beyond the full range; where all needs are met none is named, whatever the way."""
    needs, values = case
    for p, plant in enumerate(needs.plants):
        found = score(needs, plant, values).limiting
        for place in np.ndindex(2, 3):
            out = []
            for f, name in enumerate(needs.assessed):
                a, b, c, d = needs.tables["ranges"][p, f]
                x = float(values[name][place])
                short, ramp = (b - x, b - a) if x < b else (x - c, d - c) if x > c else (0.0, 1.0)
                out.append(short / max(ramp, 1e-30))  # a wall is a very steep ramp
            worst = max(out)
            rivals = [v for v in out if worst * (1 - 1e-9) <= v]
            if worst == 0.0:
                assert found[place] == NO_LIMIT
            elif len(set(rivals)) == 1 and worst > 1e-9:  # else rounding decides
                assert found[place] == NEEDS.index(needs.assessed[out.index(worst)])


@pytest.mark.parametrize("holes", [0.0, 1e-4])
def test_threads_change_nothing(holes, monkeypatch):
    needs, values = real_needs(), random_values(SIX, (70, 100), 10, holes)
    found = []
    for small in (0, 10**12):
        monkeypatch.setattr(sys.modules["habitat.suitability.fit"], "SMALL", small)
        found.append(fit(needs, values))
    for one, other in zip(*((f.low, f.high, f.limiting) for f in found), strict=True):
        assert np.array_equal(one, other)


def test_raising_one_rating_never_lowers_the_score():
    rng = np.random.default_rng(9)
    ranges = np.tile([0.0, 1.0, np.inf, np.inf], (1, 4, 1))
    for way in WAYS:
        needs = made_needs(ranges, way)
        ratings = rng.random((4, 50, 50)).astype(np.float32)
        before = score(needs, "plant 0", dict(zip(needs.assessed, ratings, strict=True))).low
        ratings[2] += rng.random((50, 50)).astype(np.float32)
        after = score(needs, "plant 0", dict(zip(needs.assessed, ratings, strict=True))).low
        assert (after >= before - 1e-6).all()

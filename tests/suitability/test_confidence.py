"""How sure a class is: against the closed form, per unit and not per cell."""

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from habitat.errors import ParameterError, StudyError
from habitat.knowledge import load_knowledge
from habitat.planting.standing import low_at_places
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability import compile_needs, fit
from habitat.suitability.confidence import class_confidence, drawn_values, yard_chance
from habitat.suitability.fit import score
from habitat.suitability.maps import ClassError, NormalError, class_error, map_errors

PLANT = "Asclepias incarnata"  # pH 5.0, 5.5, 7.2, 8.0; drainage 1, 1, 4, 5
DRAWS = 40_000


def needs(*assessed, **suitability):
    knowledge = load_knowledge(KnowledgeSettings())
    return compile_needs(knowledge, SuitabilitySettings(**suitability), assessed).subset([PLANT])


def chance(found_needs, values, errors, **more):
    n = len(next(iter(values.values())))
    given = {"units": np.arange(n), "rng": np.random.default_rng(7), "draws": DRAWS} | more
    arrays = {k: np.asarray(v, np.float32) for k, v in values.items()}
    return class_confidence(found_needs, arrays, errors, **given)


@pytest.mark.parametrize(("ph", "sd"), [(7.0, 0.3), (7.4, 0.5), (5.3, 0.2), (7.55, 0.05), (6.4, 0.01)])
def test_one_need_with_normal_error_has_the_closed_form(ph, sd):
    found = chance(needs("ph"), {"ph": [ph]}, {"ph": NormalError(sd=sd)})
    limit = {1: 0.75, 2: 0.5, 3: 0.25}[int(found.stated[0, 0])]
    low, high = 5.0 + limit * 0.5, 8.0 - limit * 0.8  # where the trapezium is at least the class's limit
    expected = norm.cdf((high - ph) / sd) - norm.cdf((low - ph) / sd)
    assert found.chance[0, 0] == pytest.approx(expected, abs=4 * 0.5 / math.sqrt(DRAWS))


def test_no_error_no_doubt():
    found = chance(needs("ph"), {"ph": [6.0, 7.9]}, {}, draws=10)
    assert (found.chance == 1).all()


def test_not_suitable_can_only_get_better():
    found = chance(needs("ph"), {"ph": [9.0]}, {"ph": NormalError(sd=1.0)}, draws=500)
    assert found.stated[0, 0] == 4
    assert found.chance[0, 0] == 1


def test_the_chance_of_a_better_class_has_the_closed_form():
    """pH 7.9 scores 0.125 (N); S3 or better takes 0.25, which is pH 7.8 or less on that side."""
    found = chance(needs("ph"), {"ph": [7.9]}, {"ph": NormalError(sd=0.2)})
    assert found.stated.tolist() == [[4]]
    expected = norm.cdf((7.8 - 7.9) / 0.2)
    assert found.better[0, 0] == pytest.approx(expected, abs=4 * math.sqrt(0.25 / DRAWS))
    assert found.chance[0, 0] == 1.0


def test_errors_of_a_unit_do_not_average_out():
    # at pH 7.6 the score is exactly 0.5: half of the draws fall below, however many cells the yard has
    values = {"ph": np.full(400, 7.6, np.float32)}
    error = {"ph": NormalError(sd=0.3)}
    one = np.zeros(400, int)
    shared = chance(needs("ph"), values, error, units=one, groups=one, draws=4000)
    assert shared.stated[0, 0] == 2
    assert shared.chance[0, 0] == pytest.approx(0.5, abs=0.04)
    single = chance(needs("ph"), values, error, units=one, draws=500)
    assert (single.chance == single.chance[0, 0]).all()  # the cells of a unit move together


def test_units_are_drawn_apart():
    values = {"ph": np.full(2, 7.6, np.float32)}
    found = chance(needs("ph"), values, {"ph": NormalError(sd=0.3)}, draws=300)
    assert found.chance[0, 0] != found.chance[0, 1]


def test_class_confusion_by_hand():
    # mapped moderately well (4): full fit. True class 4 with 0.7, else 3 or 5 with 0.15; 5 scores 0.5, S2
    found = chance(needs("drainage"), {"drainage": [4.0]}, {"drainage": class_error("drainage", 0.3)})
    assert found.stated[0, 0] == 1
    assert found.chance[0, 0] == pytest.approx(0.85, abs=0.008)


def test_a_map_that_is_never_wrong_is_drawn_as_it_is():
    """Every class of the identity matrix is drawn as itself, the first and the last too; unknown stays so."""
    classes = np.array([1, 2, 4, 7, np.nan], np.float32)
    sure = ClassError(chance=np.eye(7))
    drawn = drawn_values("drainage", classes, sure, np.arange(5), 5, 20, np.random.default_rng(1))
    np.testing.assert_array_equal(drawn, np.broadcast_to(classes, (20, 5)))


def test_unknown_stays_unknown_in_every_draw():
    found = chance(
        needs("ph", "drainage"),
        {"ph": [np.nan], "drainage": [np.nan]},
        {"ph": NormalError(sd=1.0), "drainage": class_error("drainage", 0.5)},
        draws=50,
    )
    assert found.stated[0, 0] == 4
    assert found.chance[0, 0] == 1  # not suitable holds: there is no better class to lose


def test_same_seed_same_chance_however_it_is_cut(monkeypatch):
    values, error = {"ph": [7.4]}, {"ph": NormalError(sd=0.4)}
    one = chance(needs("ph"), values, error, draws=500)
    monkeypatch.setattr("habitat.suitability.confidence.CHUNK", 7)
    other = chance(needs("ph"), values, error, draws=500)
    assert one.chance == other.chance


def test_a_yard_as_a_whole():
    inside = np.array([[True, True], [False, True]])
    values = {"ph": np.array([[7.2, 7.6], [np.nan, 8.0]], np.float32)}
    found = yard_chance(
        needs("ph"), values, inside, {"ph": NormalError(sd=0.0)}, rng=np.random.default_rng(1), draws=5
    )
    assert found.stated.tolist() == [[2]]  # mean of 1, 0.5 and 0
    assert found.chance.tolist() == [[1.0]]


def settings_with(confidence=None):
    return SuitabilitySettings(**({} if confidence is None else {"confidence": confidence, "draws": 2000}))


def test_wrong_arguments():
    with pytest.raises(ParameterError, match="0 or more"):
        NormalError(sd=-1.0)
    with pytest.raises(ParameterError, match="sum to 1"):
        ClassError(chance=np.eye(3) * 0.5)
    with pytest.raises(ParameterError, match="at least one draw"):
        chance(needs("ph"), {"ph": [6.0]}, {}, draws=0)


# --- a fit that can be counted on ---------------------------------------------------------------------


def compiled(confidence, errors, *assessed):
    tables = load_knowledge(KnowledgeSettings())
    settings = settings_with(confidence)
    return compile_needs(tables, settings, assessed, errors=map_errors(errors)).subset([PLANT])


@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.95])
def test_fit_with_confidence_has_the_closed_form(confidence):
    # on the falling side of pH, score = (8 - pH) / 0.8: reached with chance c at pH + z(c) sd
    ph, sd = 7.6, 0.1
    found = fit(compiled(confidence, {"ph": sd}, "ph"), {"ph": np.full((1, 3), ph, np.float32)})
    expected = (8.0 - (ph + norm.ppf(confidence) * sd)) / 0.8
    spread = 4 * np.sqrt(confidence * (1 - confidence) / 2000) / norm.pdf(norm.ppf(confidence)) * sd / 0.8
    assert (found.low[0, 0] == found.low[0, 0, 0]).all()
    assert found.low[0, 0, 0] / 255 == pytest.approx(min(expected, 0.5), abs=spread + 1 / 255)
    assert found.high[0, 0, 0] == pytest.approx(0.5 * 255, abs=0.5)


def test_unrounded_scores_with_confidence_round_to_the_bytes():
    """Classes come from unrounded scores, so these must be had with confidence too."""
    rng = np.random.default_rng(5)
    values = {"ph": rng.uniform(4, 9, (9, 11)).astype(np.float32)}
    values["drainage"] = rng.integers(1, 8, (9, 11)).astype(np.float32)
    wanted = compiled(0.8, {"ph": 0.3, "drainage": 0.2}, "ph", "drainage")
    sure, plain = (score(wanted, PLANT, values, sure=asked).low for asked in (True, False))
    assert np.abs(fit(wanted, values).low[0] - 255 * sure).max() <= 0.5 + 1e-3
    assert (sure <= plain).all()
    assert (sure < plain).any()
    assert (np.abs(255 * sure - np.round(255 * sure)) > 0.01).sum() >= 8  # no bytes themselves


def test_what_was_measured_is_not_lowered_by_the_error_of_a_map():
    values = {"ph": np.array([[7.6, 7.2]], np.float32), "drainage": np.array([[4.0, 5.0]], np.float32)}
    both = compiled(0.9, {"ph": 0.3, "drainage": 0.3}, "ph", "drainage")
    plain = fit(compiled(None, {}, "ph", "drainage"), values).low
    assert (fit(both, values).low < plain).any()
    assert (fit(both.exactly(("ph", "drainage")), values).low == plain).all()
    only_drainage = fit(compiled(0.9, {"drainage": 0.3}, "ph", "drainage"), values).low
    assert np.abs(fit(both.exactly(("ph",)), values).low.astype(int) - only_drainage).max() == 0


def test_a_soil_test_is_not_doubted_at_places_of_its_yard():
    """Standing plants and substitutes are judged place by place."""
    yards = pd.Series(["tested", "mapped", "tested"])
    site = SimpleNamespace(tested_in=lambda yard_id: ("ph",) if yard_id == "tested" else ())
    values = {"ph": np.full((1, 3), 7.6, np.float32)}
    doubted = compiled(0.9, {"ph": 0.3}, "ph")
    plain = fit(compiled(None, {}, "ph"), values).low[:, 0]
    low = low_at_places(doubted, site, values, yards)
    assert np.array_equal(low[:, [0, 2]], plain[:, [0, 2]])
    assert np.array_equal(low[:, 1], fit(doubted, values).low[:, 0, 1])
    assert (low[:, 1] < plain[:, 1]).any()


def test_confidence_never_raises_a_fit_and_more_never_either():
    rng = np.random.default_rng(3)
    values = {"ph": rng.uniform(4, 9, (9, 11)).astype(np.float32)}
    values["drainage"] = rng.integers(1, 8, (9, 11)).astype(np.float32)
    plain = fit(compiled(None, {}, "ph", "drainage"), values).low
    before = plain
    for confidence in (0.5, 0.8, 0.99):
        low = fit(compiled(confidence, {"ph": 0.3, "drainage": 0.2}, "ph", "drainage"), values).low
        assert (low <= before).all()
        before = low
    assert (before < plain).any()


def test_class_confusion_in_fit_by_hand():
    # mapped 4 (full fit); truly 5 (score 0.5) with chance 0.15: counted on with 0.8, not with 0.9
    values = {"drainage": np.full((1, 1), 4.0, np.float32)}
    low = {c: fit(compiled(c, {"drainage": 0.3}, "drainage"), values).low[0, 0, 0] for c in (0.8, 0.9)}
    assert low == {0.8: 255, 0.9: 128}


def test_confidence_is_the_same_in_every_window():
    rng = np.random.default_rng(4)
    values = {"ph": rng.uniform(4, 9, (8, 40)).astype(np.float32)}
    found = compiled(0.8, {"ph": 0.3}, "ph")
    whole = fit(found, values)
    part = fit(found, {"ph": values["ph"][2:5, 7:30]})
    assert np.array_equal(whole.low[:, 2:5, 7:30], part.low)


def test_confidence_needs_an_error_to_go_by():
    with pytest.raises(StudyError, match="no raster that fit uses states its error"):
        compiled(0.8, {}, "ph")
    with pytest.raises(StudyError, match="no raster that fit uses states its error"):
        compiled(0.8, {"surface_m": 1.0}, "ph")


def test_a_hole_stays_at_its_worst():
    found = fit(compiled(0.8, {"ph": 0.3}, "ph"), {"ph": np.array([[np.nan]], np.float32)})
    assert (found.low[0, 0, 0], found.high[0, 0, 0]) == (0, 255)

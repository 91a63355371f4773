"""How sure a class is: against the closed form, per unit and not per cell."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from habitat.errors import ParameterError, StudyError
from habitat.knowledge import load_knowledge
from habitat.study import KnowledgeSettings, Study
from habitat.suitability import (
    ClassError,
    NormalError,
    class_confidence,
    compile_needs,
    map_errors,
    yard_chance,
)
from habitat.suitability.confidence import class_error

PLANT = "Asclepias incarnata"  # pH 5.0, 5.5, 7.2, 8.0; drainage 1, 1, 4, 5
DRAWS = 40_000


def needs(*assessed, **suitability):
    knowledge = load_knowledge(KnowledgeSettings())
    study = Study(layers={"yards": {"path": "y.gpkg"}}, suitability=suitability)
    return compile_needs(knowledge, study, assessed).subset([PLANT])


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


def layers_with(**errors):
    rasters = {name: SimpleNamespace(source=SimpleNamespace(error=e)) for name, e in errors.items()}
    return SimpleNamespace(rasters=rasters, study=SimpleNamespace(path="study.toml"))


def test_errors_as_the_study_states_them():
    found = map_errors(
        layers_with(ph=0.4, drainage={"well drained": 0.8, "1": 0.5}, sun_h=None, surface_m=2.0)
    )
    assert found["ph"] == NormalError(sd=0.4)
    assert set(found) == {"ph", "drainage"}
    table = found["drainage"].chance
    assert table[4].tolist() == pytest.approx([0, 0, 0, 0.1, 0.8, 0.1, 0])
    assert table[0].tolist() == pytest.approx([0.5, 0.5, 0, 0, 0, 0, 0])
    assert table[2].tolist() == [0, 0, 1, 0, 0, 0, 0]


@pytest.mark.parametrize(
    ("errors", "pattern"),
    [
        ({"ph": "a lot"}, "standard deviation"),
        ({"drainage": {"boggy": 0.5}}, "boggy"),
        ({"drainage": {"well drained": 1.5}}, "between 0 and 1"),
    ],
)
def test_errors_that_make_no_sense(errors, pattern):
    with pytest.raises(StudyError, match=pattern):
        map_errors(layers_with(**errors))


def test_wrong_arguments():
    with pytest.raises(ParameterError, match="0 or more"):
        NormalError(sd=-1.0)
    with pytest.raises(ParameterError, match="sum to 1"):
        ClassError(chance=np.eye(3) * 0.5)
    with pytest.raises(ParameterError, match="at least one draw"):
        chance(needs("ph"), {"ph": [6.0]}, {}, draws=0)

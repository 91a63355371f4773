"""What the entries say agrees with published classes and with itself."""

import math

import pytest

from habitat.errors import ParameterError
from habitat.factors import FACTORS, Factor, at_most


def test_every_range_holds_what_is_usual_and_what_tables_may_state():
    for factor in FACTORS.values():
        low, high = factor.possible
        first, last = factor.usual_range
        assert low <= first < last <= high, factor.name
        assert low <= factor.wants.low < factor.wants.high <= high, factor.name


def test_the_sun_comes_first_in_tables_and_ties_keep_their_order():
    assert FACTORS.in_tables[:2] == ("sun_h", "sun_afternoon_h")
    assert sorted(FACTORS.in_tables) == sorted(FACTORS.names)


@pytest.mark.parametrize(("name", "count"), [("drainage", 7), ("texture", 12)])
def test_classes_are_as_many_as_the_soil_survey_has(name, count):
    """Soil Survey Manual (2017), chapter 3: seven natural drainage classes, twelve texture classes."""
    factor = FACTORS[name]
    assert len(set(factor.classes)) == count
    assert [factor.read_class(word) for word in factor.classes] == list(range(1, count + 1))
    assert [factor.class_name(k) for k in range(1, count + 1)] == list(factor.classes)


def test_advice_is_given_for_the_side_that_is_wrong():
    depth, ph = FACTORS["depth_cm"], FACTORS["ph"]
    assert "raised bed of 10 cm" in depth.change_words(-10.0)
    assert depth.change_words(10.0) == ""
    assert "choose another plant" not in ph.change_words(0.9)
    assert ph.change_words(-1.1).endswith("choose another plant.")


def made(**other):
    wants = at_most(("wind_full_m_s", "wind_max_m_s"), 0.0, 40.0)
    given = {"name": "wind_m_s", "words": "wind", "possible": (0.0, 40.0), "source": "", "wants": wants}
    return Factor(**given | other)


@pytest.mark.parametrize(
    "other",
    [{"possible": (5.0, 5.0)}, {"possible": (0.0, math.inf)}, {"classes": ("calm", "windy")}],
)
def test_an_entry_that_contradicts_itself_is_refused(other):
    with pytest.raises(ParameterError, match="possible of wind_m_s"):
        made(**other)


def test_no_two_factors_share_a_name_or_a_column():
    twice = made(name="gusts", wants=FACTORS["salt"].wants)
    for factor in (made(name="ph"), twice):
        with pytest.raises(ParameterError, match="no other factor has"):
            FACTORS.add(factor)
    with FACTORS.adding(made()):
        assert FACTORS.names[-1] == "wind_m_s"
    assert "wind_m_s" not in FACTORS

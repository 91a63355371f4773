"""Classes from scores: on which side of a limit, and in words."""

import numpy as np
import pytest

from habitat.suitability.classes import CLASSES, class_number, class_words, classify, classify_between

LIMITS = (0.75, 0.5, 0.25)


def test_classes():
    assert classify_between(0.8, 0.9, LIMITS) == "S1"
    assert classify_between(0.7, 0.9, LIMITS) == ""
    assert class_words("", "") == "undecided: something that matters is unknown here"
    assert class_number([1.0, 0.5, 0.3, 0.0, np.nan], LIMITS).tolist() == [1, 2, 3, 4, 0]


@pytest.mark.parametrize("k", range(3))
def test_a_score_on_a_limit_is_in_the_better_class(k):
    """So is one that a 32-bit value leaves just below it; one that is truly below is not."""
    limit = LIMITS[k]
    assert classify(limit, LIMITS) == classify(limit - 1e-6, LIMITS) == CLASSES[k]
    assert classify(limit - 1e-4, LIMITS) == CLASSES[k + 1]


def test_numbers_and_letters_agree():
    scores = np.linspace(0, 1, 101)
    assert [CLASSES[n - 1] for n in class_number(scores, LIMITS)] == [classify(s, LIMITS) for s in scores]

"""What is said: no more digits than the reach supports, ranges the right way round, no yard named."""

import pytest

from habitat.connectivity.words import planning_gain, rounded, share


@pytest.mark.parametrize(
    ("value", "low", "high", "want"),
    [
        (321.4, 204.0, 518.0, ("300", "200", "500")),
        (0.6234, 0.601, 0.655, ("0.62", "0.60", "0.66")),
        (12345.0, 12345.0, 12345.0, ("12,500", "12,500", "12,500")),
        (0.0, 0.0, 0.0, ("0", "0", "0")),
    ],
)
def test_steps_follow_the_range(value, low, high, want):
    assert rounded(value, low, high) == want


def test_a_wider_range_never_gives_more_digits():
    digits = [
        len(rounded(1234.0, 1234.0 - w, 1234.0 + w)[0].replace(",", "").rstrip("0"))
        for w in (1, 10, 100, 1000)
    ]
    assert digits == sorted(digits, reverse=True)


@pytest.mark.parametrize(
    ("value", "low", "high", "want"),
    [
        (0.5, 0.5, 0.5, "50 %"),
        (0.62, 0.71, 0.55, "60 % (60 to 70 %)"),
        (0.0, 0.0, 0.0, "0 %"),
        (0.85, 0.83, 0.88, "85 % (83 to 88 %)"),
    ],
)
def test_shares(value, low, high, want):
    assert share(value, low, high) == want


@pytest.mark.parametrize(
    ("scores", "said"),
    [
        ((0.4,), ""),
        ((0.0, 0.2), ""),
        ((0.4, 0.39), "does as well here"),
        ((0.4, 0.4001), "less than 0.1 % more"),
        ((0.4, 0.402), "0.5 % more"),
        ((0.4, 0.41, 0.44), "10 % more"),
    ],
)
def test_the_gain_of_planning_together_is_said(scores, said):
    told = planning_gain([{"round": k + 1, "joint_score": s} for k, s in enumerate(scores)])
    assert said in " ".join(told)
    assert len(told) == bool(said)

"""What is said: no more digits than the reach supports, ranges the right way round, no yard named."""

import re

import pytest

from habitat.pipeline.corridor import planning_gain
from habitat.report.words.en import english
from habitat.report.words.numbers import points, rounded, share
from tests.connectivity.invented_town import line_of_squares, request, score, sentences


@pytest.mark.parametrize(
    ("value", "low", "high", "want"),
    [
        (321.4, 204.0, 518.0, ("300", "200", "500")),
        (0.6234, 0.601, 0.655, ("0.62", "0.60", "0.66")),
        (12345.0, 12345.0, 12345.0, ("12,500", "12,500", "12,500")),
        (214.5, 213.5, 214.6, ("210", "210", "210")),
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
        (0.997, 0.997, 0.997, "almost 100 %"),
        (0.97, 0.88, 1.0, "almost 100 % (90 to 100 %)"),
        (0.004, 0.0, 0.03, "less than 1 % (0 to 3 %)"),
        (1.0, 1.0, 1.0, "100 %"),
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
    assert said in " ".join(map(english(), told))
    assert len(told) == bool(said)


def said(habitat, roles, **settings):
    yards, breeding = line_of_squares(habitat, roles=roles)
    breeding = breeding[(breeding["state"] == "planned") | (breeding["yard_id"] == "00")]
    base = {"median_m": {"monarch": 100.0}, "rank_draws": 0}
    made = request(yards, breeding, butterflies=("Danaus plexippus",), connectivity={**base, **settings})
    return sentences(score(made))


def test_one_small_yard_is_no_success_of_100_per_cent():
    first = said([3.0], ["member"])[0]
    assert first.startswith("Of what the one yard that takes part plans, 100 % is there today.")
    assert "no share says whether this is enough" in first
    assert "square metres" in said([3.0], ["member"])[1]


def test_without_candidates_the_members_are_the_whole_and_it_says_so():
    first = said([3.0, 9.0, 0.0], ["member", "member", "other"])[0]
    assert first.startswith("Of what the 2 yards taking part plan,")
    assert "No other yard is marked as one that could join" in first


def test_with_candidates_the_list_is_told_with_what_no_other_could_exceed():
    told = said([3.0, 9.0, 5.0, 4.0], ["member", "member", "candidate", "candidate"], invite=1)
    assert told[0].startswith("Of what could work as one if everybody asked took part,")
    assert re.match(
        r"If the yard to ask next joins as well, that rises to \d+ % .*; no other choice", told[1]
    )


def test_the_gain_over_today_is_told_more_closely_than_the_level():
    """Ground before in the first yard only; the members' second yard adds a third or so at any reach."""
    (line,) = (s for s in said([9.0, 4.0], ["member", "member"]) if s.startswith("Monarch"))
    assert re.search(r"single one of \d+ square metres", line)
    assert re.search(r"\d+ % more than today", line)


@pytest.mark.parametrize(
    ("gain", "low", "high", "want"),
    [
        (0.32, 0.31, 0.33, "0.3 points"),
        (0.32, 0.18, 0.46, "0.3 points (0.2 to 0.5)"),
        (6.4, 1.2, 9.3, "6 points (1 to 9)"),
        (0.0, 0.0, 0.0, "0.0 points"),
        (0.01, 0.0, 0.02, "less than 0.1 points"),
    ],
)
def test_points(gain, low, high, want):
    assert points(gain, low, high) == want

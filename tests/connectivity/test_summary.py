"""What is said: no more digits than the reach supports, ranges the right way round, no yard named."""

import re

import pytest

from habitat.pipeline.corridor import planning_gain
from habitat.report.words.en import english
from tests.connectivity.invented_town import line_of_squares, request, score, sentences


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
    assert told[0].startswith("Of what could be connected if everybody asked took part,")
    assert re.match(
        r"If the yard to ask next joins as well, that rises to \d+ % .*; no other choice", told[1]
    )


def test_the_gain_over_today_is_told_more_closely_than_the_level():
    """Ground before in the first yard only; the members' second yard adds a third or so at any reach."""
    (line,) = (s for s in said([9.0, 4.0], ["member", "member"]) if s.startswith("Monarch"))
    assert re.search(r"single one of \d+ square metres", line)
    assert re.search(r"\d+ % more than today", line)

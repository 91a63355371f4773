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
    told = planning_gain([{"round": k + 1, "worth": s} for k, s in enumerate(scores)])
    assert said in " ".join(map(english(), told))
    assert len(told) == bool(said)


def said(habitat, roles, broods=None, **settings):
    yards, breeding = line_of_squares(habitat, roles=roles)
    breeding = breeding[(breeding["state"] == "planned") | (breeding["yard_id"] == "00")]
    if broods is not None:
        breeding = breeding.assign(broods=breeding["yard_id"].map(lambda y: broods[int(y)]))
    base = {"median_m": {"monarch": 20.0}, "rank_draws": 0}
    made = request(yards, breeding, butterflies=("Danaus plexippus",), connectivity={**base, **settings})
    return sentences(score(made))


def test_one_small_yard_is_told_as_it_is_and_as_no_share():
    told = said([3.0], ["member"], [1])
    assert told[0].startswith("In yards there is food for 1 brood a year today")
    assert "3.0 square metres today, 3.0 square metres with the members' plans" in told[1]
    assert not any(" % is there" in t for t in told)
    assert any(t.startswith("No share of what could be is given: the plans here go by") for t in told)


def test_yards_without_a_plan_are_the_reason_for_no_share():
    told = said([3.0, 9.0, 0.0], ["member", "member", "other"])
    assert any(t.startswith("No share of what could be is given") and "1 of 3 yards" in t for t in told)


def test_with_candidates_the_list_is_told_with_what_no_other_could_exceed():
    roles = ["member", "member", "candidate", "candidate"]
    told = said([3.0, 9.0, 5.0, 4.0], roles, [1, 2, 3, 1], invite=1)
    assert "for 3, and 6 once the yard to ask next has joined too" in told[0]
    assert re.search(r"and [\d.]+ square metres once the yard to ask next has joined", told[1])
    assert "No other choice within the limits brings more than this yard to ask next." in told


def test_broods_that_nobody_counted_are_not_told_as_none():
    assert not any("brood" in t.split(".")[0] for t in said([3.0, 9.0], ["member", "member"]))


def test_the_gain_over_today_is_told_more_closely_than_the_level():
    """Ground before in the first yard only; the members' second yard adds a third or so at any reach."""
    (line,) = (
        s for s in said([9.0, 4.0], ["member", "member"], hop_max_m={"monarch": 35.0}) if "onarch" in s
    )
    assert re.search(r"single one of \d+ square metres", line)
    assert re.search(r"\d+ % more than today", line)

"""What is kept of links and graphs: the oldest go, and nothing changes by it but time."""

import numpy as np
import pandas as pd

from habitat.connectivity import score as whole
from habitat.connectivity.distance.links import Links
from habitat.connectivity.kept import Kept, bytes_of
from tests.connectivity.invented_town import request, score, town

SOME = ("Danaus plexippus", "Phyciodes tharos")


def made(kept, asked):
    """Return which of some things are made anew, one after the other; each takes 80 bytes."""
    out = []
    for butterfly, what in asked:
        kept.get(butterfly, what, lambda name=butterfly + what: out.append(name) or np.zeros(10))
    return out


def test_what_was_not_asked_for_longest_goes():
    asked = [("a", "1"), ("a", "2"), ("a", "1"), ("a", "3"), ("a", "1"), ("a", "2")]
    assert made(Kept(160.0), asked) == ["a1", "a2", "a3", "a2"]


def test_another_butterfly_leaves_half_the_room_before_something_new_is_made():
    """Two of 80 bytes fit into 160; b finds half of that, so the older of a's goes."""
    assert made(Kept(160.0), [("a", "1"), ("a", "2"), ("b", "1"), ("a", "2"), ("a", "1")]) == [
        "a1", "a2", "b1", "a1",
    ]  # fmt: skip


def test_the_newest_stays_however_large():
    assert made(Kept(1.0), [("a", "1"), ("a", "1")]) == ["a1"]


def test_bytes_are_those_of_all_arrays():
    links = Links(np.zeros(3, np.int64), np.zeros(3, np.int64), np.zeros(3))
    assert bytes_of(links) == 9 * 8


def test_a_corridor_of_which_nothing_can_be_kept_is_the_same(monkeypatch):
    yards, anchors, breeding = town(rows=5, cols=5, butterflies=SOME, crowns=2)
    asked = request(yards, breeding, anchors=anchors, butterflies=SOME, connectivity={"invite": 3})
    usual = score(asked)
    monkeypatch.setattr(whole, "Kept", lambda: Kept(0.0))
    again = score(asked)
    assert again.headline == usual.headline
    for name in ("links", "chain", "importance", "invitations"):
        pd.testing.assert_frame_equal(getattr(again, name), getattr(usual, name))

"""What anchors hold: named, not named, unknown; unknown is neither end of a chain nor ground to breed on."""

import pytest
import shapely

from tests.connectivity.invented_town import CRS_M, line_of_squares, notes, reasons, request, score, sentences

BUTTERFLY = "Danaus plexippus"
STATES = ("today", "members", "everyone")


def corridor(*said, likely=None, habitat=(0.0, 10.0, 10.0, 0.0)):
    """Return the corridor of four squares between anchors West and East; said: what each is said to hold.

    likely: what each likely holds.
    """
    yards, breeding = line_of_squares(list(habitat))
    shapes = [shapely.box(-50, 0, -30, 20), shapely.box(200, 0, 220, 20)]
    anchors = yards.iloc[: len(said), []].assign(name=["West", "East"][: len(said)], host_share=0.1)
    anchors = anchors.set_geometry(shapes[: len(said)], crs=CRS_M)
    if any(s is not None for s in said):
        anchors["butterflies"] = list(said)
    if likely is not None:
        anchors["likely_butterflies"] = likely
    settings = {"median_m": {BUTTERFLY: 60.0}, "hop_max_m": {BUTTERFLY: 85.0}, "rank_draws": 0}
    return score(request(yards, breeding, anchors=anchors, butterflies=(BUTTERFLY,), connectivity=settings))


def areas(got, key=None):
    entry = got.headline["butterflies"][BUTTERFLY]
    entry = entry if key is None else entry[key]
    return [entry[s]["equivalent_area_m2"] for s in STATES]


def test_no_chain_ends_where_nobody_says_that_it_breeds():
    got, none = corridor(None, None), corridor("none", "none")
    assert areas(got) == pytest.approx(areas(none), rel=1e-12)
    assert got.chain.empty
    assert got.breaks[BUTTERFLY]["pairs"] == []
    assert corridor("monarch", None).chain.empty, "one end makes no chain"


def test_where_it_likely_breeds_a_chain_may_end_but_nothing_is_counted():
    got, none = corridor(None, None, likely="monarch"), corridor("none", "none")
    assert areas(got) == pytest.approx(areas(none), rel=1e-12)
    chain = got.chain[got.chain["state"] == "members"]
    assert (chain["from_yard"].iloc[0], chain["to_yard"].iloc[-1]) == ("anchor: East", "anchor: West")
    assert set(chain["ends"]) == {"likely"}
    assert set(chain["chain"]) == {1}, "chains are numbered from 1"
    assert set(corridor("monarch", "monarch").chain["ends"]) == {"confirmed"}
    pair = got.breaks[BUTTERFLY]["pairs"][0]
    assert pair["redundancy"] == pytest.approx(1.0)
    assert pair["narrow_places"] == ["01", "02"]


def test_what_it_would_be_if_they_held_it_is_told_beside():
    got, held = corridor(None, None), corridor("all", "all")
    assert areas(got, "if_anchors_hold") == pytest.approx(areas(held), rel=1e-12)
    joint = got.headline["joint_score"]["if_anchors_hold"]
    assert joint["today"] == pytest.approx(held.headline["joint_score"]["today"], rel=1e-12)
    said = next(s for s in sentences(got) if s.startswith("Nobody has said"))
    assert "East, West. So" in said
    assert sum(n.startswith("anchors: nobody has said") for n in notes(got)) == 1
    for known in (held, corridor("none", "none")):
        assert "if_anchors_hold" not in known.headline["joint_score"]
        assert not any("obody has said" in s for s in (*sentences(known), *notes(known)))


def test_only_the_butterflies_named_breed_there():
    got = corridor("pearl crescent", "Monarch; black swallowtail")
    part = got.importance.set_index("yard_id")["held_m2"]
    assert "anchor: West" not in part.index
    assert part["anchor: East"] > 0.0
    assert got.chain.empty, "one end makes no chain"
    assert got.headline["butterflies"][BUTTERFLY]["today"]["habitat_m2"] == pytest.approx(20.0 + 40.0)


def test_one_of_two_unknown_counts_for_itself_only():
    got = corridor("monarch", None)
    assert got.headline["butterflies"][BUTTERFLY]["today"]["habitat_m2"] == pytest.approx(60.0)
    said = next(s for s in sentences(got) if s.startswith("Nobody has said"))
    assert "East" in said
    assert "West" not in said


def test_ground_that_is_only_planned_leaves_nothing_open():
    yards, breeding = line_of_squares([0.0, 10.0, 10.0, 0.0])
    got = score(request(yards, breeding[breeding["state"] == "planned"], butterflies=(BUTTERFLY,)))
    assert got.headline["butterflies"][BUTTERFLY]["members"]["habitat_m2"] == pytest.approx(20.0)
    assert "if_anchors_hold" not in got.headline["joint_score"]


NEAR = "Your yard lies 30 m from West, from where the monarch can come"
ADDS = "Your yard adds 1.00 square metres of breeding ground for the monarch"


@pytest.mark.parametrize(("west", "said"), [("monarch", NEAR), (None, ADDS)])
def test_a_reason_names_no_habitat_that_is_not_known_to_hold_it(west, said):
    yards, breeding = line_of_squares([1.0, 10.0], roles=["candidate", "member"])
    breeding = breeding[(breeding["state"] == "planned")]
    anchors = yards.iloc[:1, []].assign(name=["West"], host_share=0.1, butterflies=[west])
    anchors = anchors.set_geometry([shapely.box(-50, 0, -30, 20)], crs=CRS_M)
    settings = {"median_m": {BUTTERFLY: 60.0}, "hop_max_m": {BUTTERFLY: 80.0}, "rank_draws": 0}
    got = score(request(yards, breeding, anchors=anchors, butterflies=(BUTTERFLY,), connectivity=settings))
    assert reasons(got) == [said]

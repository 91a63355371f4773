"""What sightings say of breeding in habitat that is there already."""

from dataclasses import replace

import pytest
import shapely

from habitat.pipeline.sightings import anchors_of
from tests.connectivity.invented_town import CRS_M, layers_of, notes, score
from tests.connectivity.measures.test_sightings import BUTTERFLY, asked


def in_a_fen(made, said):
    anchors = made.yards.iloc[:1, []].assign(name="West Fen", butterflies=said)
    return replace(made, anchors=anchors.set_geometry([shapely.box(-30, 0, -10, 20)], crs=CRS_M))


def fen_of(made):
    ((anchor,), _) = anchors_of(made.study, layers_of(made), made.knowledge)
    return anchor


def test_young_in_an_anchor_confirm_that_it_breeds_there_and_are_told():
    made = asked([((-20.0, 10.0), "2025-07-10", BUTTERFLY, "egg", 1.0, 10.0)])
    for said, want in ((None, 1), ("none", 1), ("monarch", 0)):
        fen = in_a_fen(made, said)
        got = score(fen)
        assert sum("Eggs or young of Danaus plexippus were seen in West Fen" in n for n in notes(got)) == want
        assert fen_of(fen).holds(BUTTERFLY)
        assert got.importance.set_index("yard_id").loc["anchor: West Fen", "held_m2"] > 0.0


@pytest.mark.parametrize(
    ("said", "dates", "likely"),
    [
        (None, ["2025-07-10"], False),
        (None, ["2025-07-10", "2025-07-10"], False),
        (None, ["2025-07-10", "2025-07-24"], True),
        ("pearl crescent", ["2025-07-10", "2025-07-24"], True),
        ("none", ["2025-07-10", "2025-07-24"], False),
        ("monarch", ["2025-07-10", "2025-07-24"], False),
    ],
)
def test_adults_on_two_days_make_breeding_likely_where_nobody_denies_it(said, dates, likely):
    made = in_a_fen(asked([((-20.0, 10.0), day, BUTTERFLY, "adult", 1.0, 10.0) for day in dates]), said)
    anchor = fen_of(made)
    assert (BUTTERFLY in anchor.likely) is likely
    assert anchor.holds(BUTTERFLY) is (True if said == "monarch" else None if likely or not said else False)

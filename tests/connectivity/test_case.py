"""The case of a butterfly: links that would be too many are left out and told."""

import geopandas as gpd
import pytest
import shapely

from habitat.connectivity import case
from tests.connectivity.invented_town import CRS_M, line_of_squares, notes, request, score

BUTTERFLY = "Danaus plexippus"


def frame(*shapes, **columns):
    return gpd.GeoDataFrame(columns, geometry=list(shapes), crs=CRS_M)


def asked(layers=None, **settings):
    yards, breeding = line_of_squares([50.0] * 3, gap_m=40.0)
    base = {"distance": "by ground", "ground_cell_m": 1.0, "median_m": {BUTTERFLY: 300.0}, "rank_draws": 0}
    return request(
        yards, breeding, butterflies=(BUTTERFLY,), layers=layers or {}, connectivity={**base, **settings}
    )


@pytest.mark.parametrize("distance", ["straight", "by ground"])
def test_links_that_would_be_too_many_are_left_out_and_told(distance, monkeypatch):
    meadow = frame(shapely.box(-60, -300, 200, 320), cover=["meadow"])
    made = asked({"landcover": meadow}, distance=distance, hop_max_m={BUTTERFLY: 1000.0})
    assert not any("are left out" in note for note in notes(score(made)))
    monkeypatch.setattr(case, "MOST_LINKS", 3)
    cut = score(made)
    (note,) = [n for n in notes(cut) if "are left out" in n]
    longest = float(note.split("longer than ")[1].split(" m")[0])
    assert 40.0 < longest < 100.0
    assert 0.0 < cut.links["distance_m"].max() <= longest + 0.5

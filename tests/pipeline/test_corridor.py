"""What the corridor takes from a study: own crossing costs, sightings."""

import pytest

from habitat.connectivity.distance.crossing import (
    CROSSING_COSTS,
)
from habitat.errors import LayerError, MissingFileError
from habitat.pipeline.corridor import load_crossing_costs
from tests.connectivity.invented_town import line_of_squares, request

BUTTERFLY = "Danaus plexippus"


def asked(layers=None, **settings):
    yards, breeding = line_of_squares([50.0] * 3, gap_m=40.0)
    base = {"distance": "by ground", "ground_cell_m": 1.0, "median_m": {BUTTERFLY: 300.0}, "rank_draws": 0}
    return request(
        yards, breeding, butterflies=(BUTTERFLY,), layers=layers or {}, connectivity={**base, **settings}
    )


def test_the_own_table_is_laid_over_the_shipped_one(tmp_path):
    path = tmp_path / "costs.csv"
    rows = "ground,open,edge,woodland,wetland,source\nprairie,1,1,2,1,own counts\nwoodland,9,1,1,3,own\n"
    path.write_text(rows, encoding="utf-8")
    costs = load_crossing_costs(asked(crossing_costs=str(path)).study)
    assert costs.loc["woodland", "open"] == 9.0
    assert costs.loc["prairie", "source"] == "own counts"
    assert costs.loc["water", "open"] == CROSSING_COSTS.loc["water", "open"]


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("ground,open\ngrass,1\n", "no column edge, woodland, wetland"),
        ("ground,open,edge,woodland,wetland\ngrass,1,1,0,1\n", "row 2, column woodland"),
        ("ground,open,edge,woodland,wetland\ngrass,1,1,many,1\n", "row 2, column woodland: 'many'"),
    ],
)
def test_a_table_that_cannot_be_used(tmp_path, text, match):
    path = tmp_path / "costs.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(LayerError, match=match):
        load_crossing_costs(asked(crossing_costs=str(path)).study)


def test_a_table_that_is_not_there():
    with pytest.raises(MissingFileError, match="not there"):
        load_crossing_costs(asked(crossing_costs="nowhere.csv").study)

"""Tables of text: separators, headers, short rows."""

import pytest

from habitat.commands.check.account import check_study
from habitat.layers.formats import csv_table
from tests.layers import builders as make
from tests.layers.table_cases import comma


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (make.plants_text(",", comma, comma), "separator"),
        (make.plants_text().split("\n", 1)[1], "does not name the columns"),
        (make.plants_text(",", lambda v: f"{-v:.7f}"), "minus sign"),
        (make.plants_text(header="plant_id,species,lon,lat,count"), "swapped"),
        (
            make.plants_text(",", lambda v: f"{-v} W", lambda v: f"{v} N", "plant_id,species,lon,lat,count"),
            "swapped",
        ),
        (make.plants_text().replace("P2,", '"P2,'), "quote"),
        ("plant,count\nAster,2\nRudbeckia,1\n", "does not say where its rows belong"),
    ],
)
def test_tables_that_would_be_read_wrong_are_refused(with_plants, data, words):
    result = with_plants(data)
    assert result["exit"] == 2
    assert words in result["error"]["message"]


def test_header_names_are_made_unique_and_short_rows_filled():
    grid = csv_table.parse_text("a,a,,b\n1,2,3\n4,5,6,7\n", "x.csv")
    assert grid.header == ["a", "a (2)", "column 3", "b"]
    assert grid.rows == [["1", "2", "3", None], ["4", "5", "6", "7"]]
    assert "end before the last column" in " ".join(grid.told)


def test_tables_with_a_header_only_are_empty_layers(tmp_path):
    make.yards().to_file(tmp_path / "y.fgb")
    headers = {
        "participants": "yard_id,address,role,publish,budget\n",
        "plants": "plant,count,lon,lat,planted\n",
        "soil_tests": "yard_id,ph,texture,drainage,depth_cm,sun_h\n",
        "growers": "plant,form,price,quantity,months\n",
        "sightings": "date,place,x,y,butterfly,stage,count,minutes\n",
    }
    for name, header in headers.items():
        (tmp_path / f"{name}.csv").write_text(header, encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb", **{n: f"{n}.csv" for n in headers}}))
    assert result["exit"] == 0, result["error"]
    assert all(result["layers"][n]["rows_in"] == 0 for n in headers)
    assert make.notes(result).count("no rows") == len(headers)
    harm = {
        n: next(t["harm"] for t in result["layers"][n]["notes"] if "no rows" in t["what"]) for n in headers
    }
    assert {n for n, h in harm.items() if h == 2} == {"participants"}  # without it nobody takes part


def test_filtered_tables_keep_their_account(with_plants):
    result = with_plants(make.plants_text() + "P9,Aster,far,too,many,cells\n", where="count > 2")
    layer = result["layers"]["plants"]
    assert (layer["rows_in"], layer["used"], layer["set_aside"]) == (4, 3, 1)

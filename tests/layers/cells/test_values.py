"""Numbers and dates as people write them."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from habitat.commands.check.account import check_study
from habitat.layers.cells import values
from tests.layers import builders as make
from tests.layers.table_cases import PLACES


def test_odd_numbers_are_read_or_told(with_plants):
    rows = ['1,"1,200","5\'6"""', "2,a few,80 cm", "3,-3,2 ft", "4,,tall"]
    lines = ["species,lat,lon,plant_id,count,height_m"]
    lines += [
        f"Aster,{PLACES[n][1]:.7f},{PLACES[n][0]:.7f},{row}" for n, row in zip(PLACES, rows, strict=True)
    ]
    result = with_plants("\n".join(lines))
    assert [p["count"] for p in result["plants"]] == [1200, 1, 1, 1]
    heights = [r["attributes"]["height_m"] for r in result["layers"]["plants"]["rows"]]
    assert heights[:3] == pytest.approx([1.6764, 0.8, 0.6096])
    assert heights[3] is None
    for words in ("'a few' is no number", "'-3' is outside", "'tall' is no number", "no count"):
        assert words in make.notes(result)


def test_spreadsheet_dates_and_padded_ids(tmp_path):
    ids = ("00417", "00418", "01002")
    make.yards(dict(zip(ids, make.yards().geometry, strict=True))).to_file(tmp_path / "y.fgb")
    make.workbook(
        tmp_path, [("yard_id", "ph"), (417, 6.4), (418, 7.1), (1002, 5.9)], "soil.xlsx", {1: "00000"}
    )
    rows = [("plant", "lat", "lon", "planted")]
    days = (dt.date(2024, 5, 12), dt.datetime(2023, 11, 3), 45_000, None)
    rows += [(s, PLACES[n][1], PLACES[n][0], day) for (n, s, *_), day in zip(make.PLANTS, days, strict=True)]
    make.workbook(tmp_path, rows, "plants.xlsx")
    layers = {"yards": "y.fgb", "soil_tests": "soil.xlsx", "plants": "plants.xlsx"}
    result = check_study(make.study(tmp_path, layers))
    assert {r["yard_id"]: r["attributes"]["ph"] for r in result["layers"]["soil_tests"]["rows"]} == dict(
        zip(ids, (6.4, 7.1, 5.9), strict=True)
    )
    planted = [r["attributes"]["planted"] for r in result["layers"]["plants"]["rows"]]
    assert planted == ["2024-05-12", "2023-11-03", "2023-03-15", None]  # day 45,000 counted from 1899-12-30


@pytest.mark.parametrize(
    ("column", "expected", "kept"),
    [
        (["13/02/2024", "01/03/2024"], ["2024-02-13", "2024-03-01"], 0),
        (["02/13/2024", "03/01/2024"], ["2024-02-13", "2024-03-01"], 0),
        (["01/03/2024", "02/03/2024"], ["01/03/2024", "02/03/2024"], 2),
        (
            ["3.11.2023", "2024-5-2", "20240512", "12 May 2024"],
            ["2023-11-03", "2024-05-02", "2024-05-12", "2024-05-12"],
            0,
        ),
        (["00000000", "  ", "0000-00-00", None], [None] * 4, 0),
        (["2015", "2015-06", "spring", "31/02/2024"], ["2015", "2015-06", "spring", "31/02/2024"], 2),
    ],
)
def test_dates(column, expected, kept):
    out, odd, _ = values.dates(pd.Series(column, dtype=object))
    assert out == expected
    assert len(odd) == kept


def test_plain_numbers_stay_fast_arrays():
    out, faults = values.numbers(pd.Series([1.0, np.nan, np.inf]))
    assert np.isnan(out[1:]).all()
    assert out[0] == 1.0
    assert faults == {}

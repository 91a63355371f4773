"""Plants of any shape, in any writing, become points in their yard."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from habitat.commands.check.account import check_study
from tests.layers import builders as make


def shift(shape):
    return shapely.transform(shape, lambda c: c + np.array([make.WEST, make.SOUTH]))


def test_plants_of_any_shape_become_one_point_and_those_without_a_place_stand_in_their_yard(tmp_path):
    make.yards().to_file(tmp_path / "y.fgb")
    frame = gpd.GeoDataFrame(
        {"plant": ["Aster"] * 4, "count": [2, 1, 1, 1], "yard_id": [None, None, "TB-02", "TB-99"]},
        geometry=[shift(shapely.MultiPoint([(4, 8), (6, 8)])), shift(shapely.box(42, 2, 44, 4)), None, None],
        crs=make.CRS,
    )
    frame.to_parquet(tmp_path / "p.parquet")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb", "plants": "p.parquet"}))
    assert [p["yard_id"] for p in result["plants"]] == ["TB-01", "TB-02", "TB-02"]
    layer = result["layers"]["plants"]
    assert (layer["rows_in"], layer["used"], layer["repaired"], layer["set_aside"]) == (4, 0, 3, 1)
    assert "middle of yard TB-02" in make.notes(result)
    assert "no yard has the id 'TB-99'" in make.notes(result)


def test_a_plant_without_a_place_stands_in_no_house(tmp_path):
    house = make.box(44, 4, 61, 32)  # over the middle of TB-02
    make.yards().to_file(tmp_path / "y.fgb")
    gpd.GeoDataFrame(geometry=[house], crs=make.CRS).to_file(tmp_path / "b.fgb")
    (tmp_path / "p.csv").write_text("plant,yard_id\nZizia aurea,TB-02\n", encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb", "buildings": "b.fgb", "plants": "p.csv"}))
    (plant,) = result["plants"]
    at = shapely.transform(shapely.Point(plant["lon"], plant["lat"]), make.TO_METRES, interleaved=False)
    assert make.box(*make.YARDS["TB-02"]).contains(at)
    assert not house.intersects(at)


def test_plants_that_name_their_yard_or_address_join_as_the_sheet_does(tmp_path):
    make.yards(address=["12 Oak St", "14 Oak St", "7 Elm Ave"]).to_file(tmp_path / "y.gpkg")
    rows = "species,yard_id,address\nZizia aurea,tb-1,\nZizia aurea,,14 OAK Street\nZizia aurea,,9 Elm Ave\n"
    (tmp_path / "p.csv").write_text(rows, encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "plants": "p.csv"}))
    assert [p["yard_id"] for p in result["plants"]] == ["TB-01", "TB-02"]
    assert "no yard has the address '9 Elm Ave'; nearest: TB-03: 7 Elm Ave" in make.notes(result)


def test_plants_in_two_yards_and_plants_noted_twice_count_as_said(tmp_path):
    make.yards({"B": make.box(0, 0, 30, 40), "A": make.box(20, 0, 60, 40)}).to_file(tmp_path / "y.gpkg")
    lines = ["plant_id,species,lat,lon,count"]
    for name, x, y in (("P1", 25, 20), ("P2", 5, 5), ("P2", 5, 5), ("P3", 6, 5)):
        lon, lat = make.degrees(x, y)
        lines.append(f"{name},Zizia aurea,{lat:.9f},{lon:.9f},2")
    (tmp_path / "p.csv").write_text("\n".join(lines), encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.gpkg", "plants": "p.csv"}))
    assert [p["yard_id"] for p in result["plants"]] == ["A", "B", "B", "B"]
    assert sum(p["count"] for p in result["plants"]) == 8
    assert "1 row(s) lie in several yards that overlap: P1;" in make.notes(result)
    assert "P2: 2 rows say the same of the same place (rows 2, 3): all are kept" in make.notes(result)


def test_bad_rows_are_set_aside_with_their_reason_and_the_rest_is_used(with_plants):
    data = make.plants_text() + (
        "P5,Aster,0,0,1\nP6,Aster,,,1\nP7,Aster,north,-82.9,1\nP8,Aster,398.98,-82.9,1\nP9,Aster,-82.9,39.9,1\nP10,A,b,39.898,-82.9,1\n"
    )
    result = with_plants(data)
    assert result["exit"] == 1
    assert len(result["plants"]) == 4
    why = {r["row"]: r["reason"] for r in result["layers"]["plants"]["set_aside_rows"]}
    for row, word in (
        (4, "0, 0"),
        (5, "blank"),
        (6, "north"),
        (7, "out of range"),
        (8, "order"),
        (9, "6 cells"),
    ):
        assert word in why[row]
    assert "P9: set aside" in make.notes(result)


@pytest.mark.parametrize(
    ("written", "count", "name", "used"),
    [
        ("Monarda didyma x3", "", "Monarda didyma", 3),
        ("3 × Monarda didyma", "", "Monarda didyma", 3),
        ("Monarda didyma (12)", "", "Monarda didyma", 12),
        ("Monarda didyma x3", "5", "Monarda didyma", 5),
        ("Aesculus x carnea", "2", "Aesculus x carnea", 2),
        ("Phlox 'David' X 4", "", "Phlox 'David'", 4),
    ],
)
def test_counts_written_into_a_plant_s_name_are_read(tmp_path, written, count, name, used):
    make.yards().to_file(tmp_path / "y.fgb")
    east, north = make.degrees(5, 8)
    text = f"plant,count,lon,lat\n{written},{count},{east},{north}\nZizia aurea,1,{east},{north}\n"
    (tmp_path / "p.csv").write_text(text, encoding="utf-8")
    result = check_study(make.study(tmp_path, {"yards": "y.fgb", "plants": "p.csv"}))
    assert [(p["plant"], p["count"]) for p in result["plants"]] == [(name, used), ("Zizia aurea", 1)]
    told = [n["what"] for n in result["layers"]["plants"]["notes"] if f"{name!r}" in n["what"]]
    assert bool(told) == (name != written)

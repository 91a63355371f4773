"""What hands change in tables is read as a plan whose counts, places and marks agree."""

from types import SimpleNamespace

import geopandas as gpd
import pandas as pd
import pytest
import shapely
from shapely.geometry import MultiPoint, Point, box

from habitat.planting.settled import BY_HAND, fingerprints
from habitat.planting.types import Drawn
from habitat.report.words.en import english
from habitat.revision.edits import CHANGED, WHY, Edits

CRS = 32617
PLANTS = {"aster": "Aster novus", "rue": "Ruta alba", "sage": "Salvia lata"}
YARDS = {"a": box(0, 0, 20, 20), "b": box(30, 0, 50, 20)}


def plant(name):
    return PLANTS.get(name, name if name in PLANTS.values() else None)


def facts(name, form, count):
    row = {"common_name": name.split()[0], "form": form or "plug", "spacing_m": 0.5, "height_m": 1.0}
    return row | {"cost": 3.0 * count, "crown_m": 0.4, "plant": name}


def yard_at(shape):
    return next((y for y, outline in YARDS.items() if outline.intersects(shape.centroid)), None)


def table(rows, shapes):
    return gpd.GeoDataFrame(pd.DataFrame(rows), geometry=shapes, crs=CRS)


def tables():
    """Return one bed in each of two yards: four asters in both, and two rues in the first."""
    shapes = {"a-b1": box(0, 0, 4, 2), "b-b1": box(30, 0, 34, 2)}
    beds = table(
        [
            {
                "bed_id": k,
                "yard_id": k[0],
                "bed_number": 1,
                "growth_form": "herb",
                "area_m2": 8.0,
                "edge_m": 12.0,
            }
            for k in shapes
        ],
        list(shapes.values()),
    )
    spots = {
        "a-p01": [(0.5, 0.5), (1.0, 0.5), (1.5, 0.5), (2.0, 0.5)],
        "a-p02": [(3.0, 1.0), (3.5, 1.0)],
        "b-p01": [(30.5, 0.5), (31.0, 0.5), (31.5, 0.5), (32.0, 0.5)],
    }
    rows, points, at = [], [], []
    for key, mine in spots.items():
        name = "Ruta alba" if key == "a-p02" else "Aster novus"
        rows.append(
            {"planting_id": key, "yard_id": key[0], "bed_id": f"{key[0]}-b1", "plant": name, "year": 1}
            | facts(name, "plug", len(mine)) | {"count": len(mine), "why": "sun."}
        )  # fmt: skip
        number = 2 if key == "a-p02" else 1
        for k, spot in enumerate(mine, start=1):
            points.append(
                {"point_id": f"{key}-{k:03d}", "planting_id": key, "bed_id": f"{key[0]}-b1"}
                | {"yard_id": key[0], "plant": name, "key_number": number, "crown_m": 0.4, "height_m": 1.0}
            )  # fmt: skip
            at.append(Point(spot))
    plantings = table(rows, [MultiPoint(mine) for mine in spots.values()]).drop(columns="crown_m")
    return Drawn(beds, plantings, table(points, at))


def listed(drawn):
    columns = ["planting_id", "yard_id", "bed_id", "plant", "form", "count"]
    return pd.DataFrame(drawn.plantings[columns]).astype(str)


def read(drawn, rows=None):
    """Return the plan that edited tables make, and what is told of them."""
    edits = Edits(fingerprints(tables()), plant, facts, yard_at)
    out = edits.read(drawn, rows, "plantings.csv")
    held = out.points.groupby("planting_id").size().to_dict()
    assert held == out.plantings.set_index("planting_id")["count"].to_dict()
    assert set(out.points["bed_id"]) <= set(out.beds["bed_id"])
    for key, mine in out.points.groupby("planting_id"):
        row = out.plantings.set_index("planting_id").loc[key]
        assert sorted(map(str, mine.geometry)) == sorted(map(str, row["geometry"].geoms))
    numbers = out.points.groupby(["yard_id", "key_number"])["plant"].nunique()
    assert (numbers == 1).all(), "a number on a sheet stands for one plant"
    rows = out.plantings.set_index("planting_id", drop=False)
    return SimpleNamespace(out=out, rows=rows, told=english().each(tuple(edits.notes)))


def marked(found):
    return set(found.rows.index[found.rows[BY_HAND].astype(bool)])


def test_what_nobody_edited_is_what_it_was():
    found = read(tables(), listed(tables()))
    assert (marked(found), found.told) == (set(), [])
    for mine, was in zip(
        (found.out.beds, found.out.plantings), (tables().beds, tables().plantings), strict=True
    ):
        pd.testing.assert_frame_equal(pd.DataFrame(mine[was.columns]), pd.DataFrame(was), check_dtype=False)


def test_a_list_swaps_counts_and_strikes():
    rows = listed(tables())
    rows.loc[0, "count"] = "6"
    rows.loc[1, "plant"] = "sage"
    found = read(tables(), rows.drop(index=2))
    assert found.rows.loc["a-p01", ["count", "cost", "why"]].tolist() == [6, 18.0, f"sun{CHANGED}"]
    assert found.rows.loc["a-p02", ["plant", "why"]].tolist() == ["Salvia lata", WHY]
    assert found.out.beds["bed_id"].tolist() == ["a-b1"]
    assert found.told == ["yard b: planting b-p01 (Aster novus) is struck"]
    assert marked(found) == {"a-p01", "a-p02"}
    new = found.out.points[found.out.points["planting_id"] == "a-p01"].geometry.iloc[4:]
    assert new.within(box(0, 0, 4, 2)).all()
    others = shapely.MultiPoint([p for p in found.out.points.geometry if p not in list(new)])
    assert new.distance(others).min() > 0.5  # nearer to none than the spacing, since there is room


def test_fewer_are_taken_from_the_end():
    rows = listed(tables())
    rows.loc[0, "count"] = "1"
    found = read(tables(), rows)
    mine = found.out.points[found.out.points["planting_id"] == "a-p01"]
    assert [(p.x, p.y) for p in mine.geometry] == [(0.5, 0.5)]
    assert found.rows.loc["a-p01", "cost"] == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"count": "2.5"}, "row 1: the count '2.5' is no whole number; the planting stays as it was"),
        ({"count": "-1"}, "row 1: the count '-1' is no whole number"),
        ({"planting_id": ""}, "row 1: it has no planting_id"),
        ({"planting_id": "z-p01"}, "row 1: there is no planting 'z-p01'"),
        (
            {"plant": "cabbage"},
            "planting a-p01 names 'cabbage', which is in no plant table: Aster novus stays",
        ),
    ],
)
def test_rows_that_cannot_be_are_named(change, said):
    rows = listed(tables())
    for column, value in change.items():
        rows.loc[0, column] = value
    found = read(tables(), rows)
    assert any(said in line for line in found.told), found.told
    if "planting_id" not in change:
        assert found.rows.loc["a-p01", ["plant", "count"]].tolist() == ["Aster novus", 4]


def test_of_two_rows_of_a_planting_the_last_counts_and_it_is_said():
    rows = listed(tables())
    found = read(tables(), pd.concat([rows, rows.iloc[[0]].assign(count="3")], ignore_index=True))
    assert found.rows.loc["a-p01", "count"] == 3
    assert found.told == ["plantings.csv, row 4: a second row of planting 'a-p01'; this one counts"]


def test_a_list_that_is_as_it_was_does_not_outweigh_the_map():
    drawn = tables()
    drawn.plantings.loc[0, "count"] = 5
    rows = listed(tables())
    rows.loc[2, "count"] = "3"
    found = read(drawn, rows)
    assert found.rows["count"].to_dict() == {"a-p01": 5, "a-p02": 2, "b-p01": 3}


def test_plants_follow_a_bed_that_is_moved():
    drawn = tables()
    drawn.beds.loc[0, "geometry"] = box(10, 5, 14, 7)
    found = read(drawn)
    mine = found.out.points[found.out.points["planting_id"] == "a-p02"]
    assert [(p.x, p.y) for p in mine.geometry] == [(13.0, 6.0), (13.5, 6.0)]
    assert marked(found) == {"a-p01", "a-p02"}
    assert found.out.beds[BY_HAND].tolist() == [True, False]


def test_plants_outside_of_a_new_shape_are_set_in_it():
    drawn = tables()
    drawn.beds.loc[0, "geometry"] = box(0, 0, 2.5, 2)
    found = read(drawn)
    assert found.out.points[found.out.points["yard_id"] == "a"].within(box(0, 0, 2.5, 2)).all()
    assert marked(found) == {"a-p02"}
    assert found.out.beds.loc[0, ["area_m2", "edge_m"]].tolist() == [5.0, 9.0]


def test_points_are_added_moved_and_taken_away():
    drawn = tables()
    new = drawn.points.iloc[[0]].assign(
        point_id=None, planting_id=None, bed_id=None, yard_id=None, plant="sage", key_number=None,
        geometry=[Point(2, 1.5)],
    )  # fmt: skip
    again = new.assign(plant="aster", geometry=[Point(3, 1.7)])
    points = pd.concat([drawn.points.drop(index=5), new, again], ignore_index=True)
    points.loc[6, "geometry"] = Point(31.2, 1.0)
    found = read(Drawn(drawn.beds, drawn.plantings, points))
    assert found.rows["count"].to_dict() == {"a-p01": 5, "a-p02": 1, "b-p01": 4, "a-p03": 1}
    assert found.rows.loc["a-p03", ["plant", "why"]].tolist() == ["Salvia lata", WHY]
    assert marked(found) == {"a-p01", "a-p02", "a-p03", "b-p01"}
    assert found.told == []


def test_one_place_given_another_plant_leaves_its_planting():
    drawn = tables()
    drawn.points.loc[1, "plant"] = "sage"
    found = read(drawn)
    assert found.rows["count"].to_dict() == {"a-p01": 3, "a-p02": 2, "b-p01": 4, "a-p03": 1}
    assert found.rows.loc["a-p01", "cost"] == pytest.approx(9.0)


def test_a_new_bed_needs_plants_and_a_yard():
    drawn = tables()
    new = drawn.beds.iloc[[0, 0, 0]].assign(
        bed_id=None, yard_id=None, bed_number=None,
        geometry=[box(10, 10, 12, 12), box(15, 15, 16, 16), box(90, 90, 93, 92)],
    )  # fmt: skip
    point = drawn.points.iloc[[0]].assign(planting_id=None, plant="sage", geometry=[Point(11, 11)])
    found = read(
        Drawn(
            pd.concat([drawn.beds, new], ignore_index=True),
            drawn.plantings,
            pd.concat([drawn.points, point], ignore_index=True),
        )
    )
    beds = found.out.beds.set_index("bed_id")
    assert beds.loc["a-b2", ["yard_id", "bed_number", "area_m2"]].tolist() == ["a", 2, 4.0]
    assert found.rows.loc["a-p03", ["bed_id", "plant"]].tolist() == ["a-b2", "Salvia lata"]
    assert any("6.0 m² drawn by hand lies in no yard" in line for line in found.told), found.told
    assert any("1.0 m² drawn by hand holds no plants" in line for line in found.told), found.told


def test_a_point_in_no_bed_or_without_a_name_is_told():
    drawn = tables()
    lost = drawn.points.iloc[[0, 0]].assign(
        planting_id=None, bed_id=None, plant=["sage", "cabbage"], geometry=[Point(9, 9), Point(1, 1.5)]
    )
    found = read(Drawn(drawn.beds, drawn.plantings, pd.concat([drawn.points, lost], ignore_index=True)))
    assert found.told == [
        "yard a: a plant was added by hand, but 'sage' lies in no bed: it is left out",
        "yard a: a plant was added by hand, but 'cabbage' is in no plant table: it is left out",
    ]
    assert len(found.out.points) == 10


def test_a_bed_that_is_struck_takes_its_plants_along():
    drawn = tables()
    found = read(Drawn(drawn.beds.drop(index=0), drawn.plantings, drawn.points))
    assert found.rows.index.tolist() == ["b-p01"]
    assert [line.split(" ")[3] for line in found.told] == ["a-p01", "a-p02"]


def test_a_bed_in_which_plants_of_earlier_years_live_stays_without_plantings():
    drawn = tables()
    rows = listed(drawn)
    for living, left in ((frozenset(), ["a-b1"]), (frozenset({"b-b1"}), ["a-b1", "b-b1"])):
        edits = Edits(fingerprints(drawn), plant, facts, yard_at, living)
        out = edits.read(tables(), rows.drop(index=2), "plantings.csv")
        assert out.beds["bed_id"].tolist() == left


def test_an_outline_that_crosses_itself_is_mended():
    drawn = tables()
    drawn.beds.loc[0, "geometry"] = shapely.Polygon([(0, 0), (4, 2), (4, 0), (0, 2)])
    found = read(drawn)
    assert found.out.beds.geometry[0].is_valid
    assert found.out.beds["area_m2"].tolist() == [4.0, 8.0]


def test_marks_stay_when_nothing_more_is_changed():
    drawn = tables()
    for name in ("beds", "plantings", "points"):
        getattr(drawn, name)[BY_HAND] = False
    drawn.plantings.loc[1, BY_HAND] = True
    assert marked(read(drawn)) == {"a-p02"}

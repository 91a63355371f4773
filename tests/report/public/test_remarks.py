"""What the public may know of a remark follows from kind and subject, whatever the words are."""

import geopandas as gpd
import pandas as pd
import shapely

from habitat.remarks import HOUSEHOLD, Subject, remark
from habitat.report.public.names import Names
from habitat.report.public.remarks import Reducer, public_remark, public_remarks
from habitat.report.words.say import HIDDEN


def names():
    """Yards a and c may be shown, b may not; one anchor."""
    yards = gpd.GeoDataFrame(
        {"yard_id": ["a", "b", "c"], "publish": [True, False, True]},
        geometry=[shapely.Point(k, -k) for k in range(3)],
        crs=32617,
    )
    anchors = gpd.GeoDataFrame({"name": ["Old Mill Meadow"]}, geometry=[shapely.Point(0, 9)], crs=32617)
    return Names.of(yards, anchors)


def test_places_get_their_new_names_in_order_and_rows_go():
    about = Subject(yards=("c", "b", "a"), anchors=("Old Mill Meadow",), plants=("Asclepias",), rows=(3,))
    less = public_remark(remark("k", about, n=1), names())
    assert less.subject.yards == ("002", HIDDEN, "001")
    assert less.subject.anchors == ("habitat 1",)
    assert less.subject.plants == ("Asclepias",)
    assert less.subject.rows == ()
    assert less["n"] == 1


def test_nothing_is_told_of_what_a_household_said_of_itself():
    for said in sorted(HOUSEHOLD):
        assert public_remark(remark("k", Subject(household=(said,))), names()) is None
    told = (remark("one"), remark("two", Subject(household=("pets",))))
    assert public_remarks(told, names()) == (remark("one"),)


def test_all_reasons_go_alike():
    """Were only those of a household left out, a reader could tell from which are gone."""
    because = (remark("no_room"), remark("toxic", Subject(household=("children",))))
    less = public_remark(remark("no_host", because=because), names())
    assert less["because"] == ()


def test_remarks_within_remarks_are_reduced_too():
    inner = remark("inner", Subject(yards=("b",)))
    secret = remark("secret", Subject(household=("budget",)))
    less = public_remark(remark("outer", one=secret, many=(inner, secret, 2)), names())
    assert less["one"] is None
    assert less["many"] == (remark("inner", Subject(yards=(HIDDEN,))), 2)


def test_columns_of_remarks_are_reduced_though_nobody_lists_them():
    frame = pd.DataFrame(
        {
            "told": [(remark("k", Subject(yards=("b",))),), ()],
            "one": [remark("s", Subject(household=("deer",))), remark("k")],
            "text": ["yard b", "stays: no list names it"],
        }
    )
    less = Reducer.of(names()).table("no such table", frame)
    assert less["told"].tolist() == [(remark("k", Subject(yards=(HIDDEN,))),), ()]
    assert less["one"].tolist() == [(), remark("k")]
    assert less["text"].tolist() == frame["text"].tolist()


def test_nested_values_hold_remarks():
    given = {"words": remark("k", Subject(yards=("a",))), "list": (remark("k"),), "n": [1, "b"]}
    assert Reducer.of(names()).nested(given) == {
        "words": remark("k", Subject(yards=("001",))),
        "list": (remark("k"),),
        "n": [1, HIDDEN],
    }

"""Values to plain data and back: everything comes back as it was, and nothing else can come."""

import dataclasses
import json
import math
from pathlib import Path

import geopandas as gpd
import hypothesis.extra.numpy as hnp
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from habitat.pipeline.plain_data import Reader, Writer
from habitat.settings.layers import RasterSource
from habitat.study.model import Study


@dataclasses.dataclass(frozen=True, slots=True)
class Known:
    """A class that is registered."""

    one: object
    two: object = None


@dataclasses.dataclass
class Unknown:
    """A class that is not."""

    one: object


TYPES = {"Known": Known, "Study": Study, "RasterSource": RasterSource}


def there_and_back(value):
    writer = Writer(TYPES)
    tree = json.loads(json.dumps(writer.node(value)))
    data = b"".join(a.tobytes() for a in writer.arrays)
    return Reader(TYPES, np.frombuffer(data, np.uint8)).value(tree)


def same(a, b):
    """Return whether two values are equal in type, order and every bit that tells, NaN equal to NaN."""
    if type(a) is not type(b):
        return False
    if isinstance(a, float):
        if math.isnan(a):  # its sign tells nothing
            return math.isnan(b)
        return math.copysign(1, a) == math.copysign(1, b) and a == b
    if isinstance(a, np.ndarray):
        alike = a.shape == b.shape and a.dtype == b.dtype
        if a.dtype == object:
            return alike and all(map(same, a.ravel().tolist(), b.ravel().tolist()))
        return alike and a.tobytes() == b.tobytes()
    if isinstance(a, dict):
        return len(a) == len(b) and all(
            same(k, m) and same(v, w) for (k, v), (m, w) in zip(a.items(), b.items(), strict=True)
        )
    if isinstance(a, list | tuple):
        return len(a) == len(b) and all(map(same, a, b))
    if isinstance(a, Known):
        return same(a.one, b.one) and same(a.two, b.two)
    return bool(a == b)


scalars = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(), st.binary(), st.dates(), st.datetimes(),
    st.builds(np.float64, st.floats()), st.builds(np.int32, st.integers(-9, 9)),
    st.builds(np.bool_, st.booleans()), st.builds(np.str_, st.text(max_size=5)), st.just(Path("a/b c")),
)  # fmt: skip

arrays = hnp.arrays(
    st.one_of(hnp.floating_dtypes(), hnp.integer_dtypes(), hnp.boolean_dtypes(), hnp.unicode_string_dtypes()),
    hnp.array_shapes(min_dims=0, max_dims=3, min_side=0, max_side=4),
)

keys = st.one_of(
    st.none(), st.booleans(), st.integers(), st.text(), st.tuples(st.text(max_size=3), st.integers())
)

values = st.recursive(
    st.one_of(scalars, arrays),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.lists(inner, max_size=4).map(tuple),
        st.dictionaries(keys, inner, max_size=4),
        st.builds(Known, inner, inner),
        st.frozensets(st.one_of(st.integers(), st.text()), max_size=4),
    ),
    max_leaves=12,
)


@settings(max_examples=150, deadline=None)
@given(values)
def test_values_come_back_as_they_were(value):
    assert same(there_and_back(value), value)


def polygons():
    return [
        shapely.box(0, 0, 1, 1),
        shapely.Polygon(shapely.box(0, 0, 9, 9).exterior, [shapely.box(1, 1, 2, 2).exterior]),
        None,
        shapely.Polygon(),
        shapely.MultiPolygon([shapely.box(0, 0, 1 / 3, 1), shapely.box(4, 4, 5, 5.1)]),
    ]


FRAMES = {
    "numbers": pd.DataFrame({"a": [1, 2], "b": [0.1, np.nan], "c": [True, False]}),
    "float32": pd.DataFrame({"a": np.array([1.5, np.nan], "float32")}, index=["x", "y"]),
    "mixed": pd.DataFrame({"a": pd.Series([None, np.nan, "x", 3, ("t", 1), {"k": 2}], dtype=object)}),
    "text": pd.DataFrame({"a": pd.Series(["x", None, ""], dtype="string")}),
    "text by default": pd.DataFrame({"a": ["x", "y", ""]}),
    "category": pd.DataFrame({"a": pd.Categorical(["x", None, "y"], ["y", "x", "z"], ordered=True)}),
    "masked": pd.DataFrame({"a": pd.array([1, None, 3], "Int64"), "c": pd.array([1.5, None, 0.0], "Float64"),
                            "b": pd.array([True, None, False], "boolean")}),
    "dates": pd.DataFrame({"a": pd.to_datetime(["2026-03-01", None])}),
    "no rows": pd.DataFrame({"a": pd.Series(dtype=object), "b": pd.Series(dtype=float)}),
    "no columns": pd.DataFrame(index=[3, 5]),
    "names": pd.DataFrame([[1, 2]], columns=pd.Index([0, "b"], name="kind"), index=pd.Index([7], name="row")),
    "twice": pd.DataFrame([[1, "x"]], columns=["a", "a"]),
    "many": pd.DataFrame({"v": [1.0, 2]}, pd.MultiIndex.from_tuples([("a", 1), ("b", 2)], names=["n", None])),
}  # fmt: skip


@pytest.mark.parametrize("name", FRAMES)
def test_frames_come_back_as_they_were(name):
    """Held against pandas' own comparison of frames, which looks at types, indexes and missing values."""
    back = there_and_back(FRAMES[name])
    assert type(back) is pd.DataFrame
    pd.testing.assert_frame_equal(back, FRAMES[name], check_exact=True, check_freq=True)
    for column in range(back.shape[1]):
        if pd.api.types.is_object_dtype(back.dtypes.iloc[column]):
            assert same(back.iloc[:, column].tolist(), FRAMES[name].iloc[:, column].tolist())


def test_shapes_come_back_to_the_last_bit_with_their_crs_and_columns():
    """Held against shapely's own equality of every coordinate in order."""
    frame = gpd.GeoDataFrame(
        {"id": list("abcde"), "shape": gpd.GeoSeries(polygons(), crs=32617)}, geometry="shape", crs=32617
    )
    frame["middle"] = gpd.GeoSeries([shapely.Point(1 / 3, 2 / 3, z) for z in range(5)], crs=4326)
    back = there_and_back(frame)
    assert type(back) is gpd.GeoDataFrame
    assert back.geometry.name == "shape"
    assert back.crs == frame.crs
    assert back.crs.to_string() == "EPSG:32617"
    assert back["middle"].crs.to_epsg() == 4326
    for column in ("shape", "middle"):
        wanted, got = frame[column].to_numpy(), back[column].to_numpy()
        assert [g is None for g in got] == [g is None for g in wanted]
        there = [i for i, g in enumerate(wanted) if g is not None]
        assert shapely.equals_identical(got[there], wanted[there]).all()
    empty = there_and_back(frame.iloc[:0])
    assert len(empty) == 0
    assert empty.crs == frame.crs
    without = there_and_back(gpd.GeoDataFrame({"id": [1]}))
    assert type(without) is gpd.GeoDataFrame


def test_arrays_keep_their_order_can_be_written_to_and_stay_one():
    """The order in memory decides in which order sums are taken, and so their last bits."""
    by_column, part = np.asfortranarray(np.arange(6.0).reshape(2, 3)), np.arange(12)[::3]
    back = there_and_back({"a": by_column, "b": by_column, "c": part, "d": np.float32(2.5)})
    assert back["a"].flags.f_contiguous
    assert not back["a"].flags.c_contiguous
    assert back["a"] is back["b"]
    np.testing.assert_array_equal(back["a"], by_column)
    np.testing.assert_array_equal(back["c"], part)
    back["a"][0, 0] = 7.0
    assert back["d"] == np.float32(2.5)


@pytest.mark.parametrize(
    "value", [Unknown(1), [object()], {"a": Unknown}, len, 1j, shapely.LinearRing([(0, 0), (1, 0), (1, 1)]),
              np.array([(1, 2)], "i4,i4"), pd.DataFrame({"a": pd.to_datetime(["2026-03-01"], utc=True)})]
)  # fmt: skip
def test_what_is_not_registered_is_not_written(value):
    with pytest.raises(TypeError, match=r"plain|registered|rings"):
        Writer(TYPES).node(value)


@pytest.mark.parametrize(
    "tree",
    [
        ["made", "Unknown", ["dict", ["one"], [1]]],
        ["made", "os.system", ["dict", ["command"], ["true"]]],
        ["made", "Known", ["dict", ["three"], [1]]],
        ["array", ["|O", [1], "C", 0]],
        ["array", ["<f8", [9], "C", 0]],
        ["array", ["<f8", [-1], "C", 0]],
        ["eval", "1"],
        ["shapes", ["<i8", [1], "C", 0], ["|u1", [8], "C", 0]],
        {"a": 1},
        [],
    ],
)
def test_what_no_writer_makes_is_not_read(tree):
    with pytest.raises((ValueError, KeyError, TypeError, shapely.errors.GEOSException)):
        Reader(TYPES, np.arange(16, dtype=np.uint8)).value(tree)

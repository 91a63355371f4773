"""Settings of a study, kept as plain data and back."""

import dataclasses
import datetime as dt
import json

import numpy as np
import pandas as pd
import shapely
from affine import Affine
from pyproj import CRS

from habitat.pipeline.plain_data import Reader, Writer
from habitat.settings.layers import RasterSource
from habitat.study.model import Study


@dataclasses.dataclass(frozen=True, slots=True)
class Known:
    """A class that is registered."""

    one: object
    two: object = None


TYPES = {"Known": Known, "Study": Study, "RasterSource": RasterSource}


def there_and_back(value):
    writer = Writer(TYPES)
    tree = json.loads(json.dumps(writer.node(value)))
    data = b"".join(a.tobytes() for a in writer.arrays)
    return Reader(TYPES, np.frombuffer(data, np.uint8)).value(tree)


def polygons():
    return [
        shapely.box(0, 0, 1, 1),
        shapely.Polygon(shapely.box(0, 0, 9, 9).exterior, [shapely.box(1, 1, 2, 2).exterior]),
        None,
        shapely.Polygon(),
        shapely.MultiPolygon([shapely.box(0, 0, 1 / 3, 1), shapely.box(4, 4, 5, 5.1)]),
    ]


def test_single_shapes_places_and_settings_come_back():
    study = Study(
        layers={"yards": {"path": "yards.gpkg"}},
        rasters={"ph": {"path": "ph.tif", "error": 1}},
        study={"date": dt.date(2026, 3, 1)},
    )
    for value in (
        *(g for g in polygons() if g is not None), shapely.LineString([(0, 0, 5), (1, 1, 6)]),
        shapely.Point(), Affine(2.0, 0.0, 1 / 3, 0.0, -2.0, 5.0), CRS.from_epsg(32617),
        study, study.rasters["ph"], pd.RangeIndex(2, 9, 3),
    ):  # fmt: skip
        back = there_and_back(value)
        assert type(back) is type(value)
        assert back.equals(value) if isinstance(value, pd.Index) else back == value
    again = there_and_back(study)
    assert again.path == study.path
    assert type(again.rasters["ph"].error) is type(study.rasters["ph"].error)
    assert there_and_back(pd.NaT) is pd.NaT
    assert there_and_back(pd.NA) is pd.NA

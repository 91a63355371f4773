"""An ordinary family yard measured by tape, invented: house, porch, drive, front walk, back fence, one oak.

Measured in metres from the south-west corner of the parcel; the street runs along the south side.
"""

import geopandas as gpd
import numpy as np
import shapely
from shapely import LineString, Point, box
from shapely.affinity import translate

from habitat.planting.household import Household
from habitat.planting.types import YardContext
from tests.support.yards import ORIGIN, UTM, Scene, empty, existing, scene

YARD = box(0, 0, 20, 38)
HOUSE, PORCH = box(5, 11, 15, 20), box(8, 9.5, 12, 11)
DRIVE, WALK = box(15.6, 0, 18.6, 14), box(9.4, 0, 10.6, 9.5)
FENCE = LineString([(0.2, 22), (0.2, 37.8), (19.8, 37.8), (19.8, 22)])
OAK, OAK_CROWN_M2 = Point(5, 31), 60.0
STREET = LineString([(-40, -6), (60, -6)])
FAMILY = Household(play=True, hours_a_month=2.0)
"""Children and a dog, 300 in money."""


def _here(shape):
    return translate(shape, *ORIGIN)


def tape_yard() -> Scene:
    """Return the yard with its closed ground, its oak and its street."""
    base = scene(_here(YARD), _here(shapely.union(HOUSE, PORCH)), plants=[_oak()])
    setbacks = {"herb": (0.15, 0.15), "shrub": (0.6, 0.6), "tree": (1.5, 2.0)}
    paving, fence = _here(shapely.union(DRIVE, WALK)), _here(FENCE)
    rows, ground = [], []
    for form, shape in zip(base.open_ground["growth_form"], base.open_ground.geometry, strict=True):
        beside, off = setbacks[form]
        pieces = {"paving": (paving.buffer(beside), beside), "fence": (fence.buffer(off), off)}
        for what, (piece, metres) in pieces.items():
            rows.append(("Y1", what, what, form, metres, piece.intersection(base.yard["geometry"])))
        ground.append(shape.difference(shapely.union_all([p for p, _ in pieces.values()])))
    return _with(base, rows, ground)


def _oak():
    return ("Quercus alba", 1, OAK_CROWN_M2, ORIGIN[0] + OAK.x, ORIGIN[1] + OAK.y)


def _with(base, rows, ground):
    columns = ["yard_id", "what", "reason", "growth_form", "setback_m", "geometry"]
    more = gpd.GeoDataFrame(rows, columns=columns, geometry="geometry", crs=UTM)
    closed = gpd.pd.concat([base.context.closed_ground, more], ignore_index=True)
    context = YardContext(
        base.context.latitude_deg,
        closed,
        empty("yard_id", "reason", "height_max_m"),
        empty("yard_id", "reason"),
        existing([_oak()]),
        street=_here(STREET),
    )
    table = base.open_ground.assign(open_m2=np.array([g.area for g in ground])).set_geometry(ground)
    return Scene(base.yard, table.set_crs(UTM, allow_override=True), base.fit, base.window, context)

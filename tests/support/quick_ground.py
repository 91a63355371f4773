"""What the stages before planting find of a row of small yards, made at once."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from habitat.grid import Grid
from habitat.ground.open_ground import CLOSED_COLUMNS, HEIGHT_COLUMNS, HOST_COLUMNS
from habitat.pipeline.planting import Groundwork, existing_of
from habitat.site.types import Site
from tests.connectivity.invented_town import CRS_M, layers_of, request

MONARCH = ("Danaus plexippus",)
NOTHING = CLOSED_COLUMNS, HEIGHT_COLUMNS, HOST_COLUMNS


def quick_ground(tables, spots, roles, listed, sun=9.0, open_m2=200.0, columns=None, **settings):
    """Return the groundwork of 20 m yards at spots [m], monarchs wished for.

    tables: knowledge and needs. listed: rows of the sign-up sheet. columns: what households answered.
    """
    boxes = [shapely.box(x, 0, x + 20, 20) for x in spots]
    ids = [f"{k:02d}" for k in range(len(spots))]
    frame = {"yard_id": ids, "role": roles, "area_m2": 400.0, **(columns or {})}
    yards = gpd.GeoDataFrame(frame, geometry=boxes, crs=CRS_M)
    sheet = gpd.GeoDataFrame({"yard_id": listed}, geometry=[None] * len(listed), crs=CRS_M)
    made = request(
        yards,
        yards.iloc[:0],
        butterflies=MONARCH,
        layers={"participants": sheet},
        connectivity={"median_m": {"monarch": 100.0}, **settings},
    )
    layers = layers_of(made)
    site, (existing, _) = site_of(yards, sun, open_m2), existing_of(layers, tables[0])
    able = tuple(yards.loc[yards["role"].isin(["member", "candidate"]), "yard_id"])
    return Groundwork(made.study, layers, site, *tables, existing, MONARCH, able)


def site_of(yards, sun, open_m2):
    """Return a site whose yards have one sun each [h] and so much open ground [m2], in a square."""
    grid = Grid.from_bounds(tuple(yards.total_bounds), 2.0, CRS_M)
    table = pd.DataFrame({"yard_id": yards["yard_id"], "open_m2": open_m2, "sun_h_mean": sun})
    raster = np.full(grid.shape, np.nan, np.float32)
    side = np.sqrt(table["open_m2"].fillna(200.0))
    squares = [
        shapely.box(b.bounds[0], 0, b.bounds[0] + s, s) for b, s in zip(yards.geometry, side, strict=True)
    ]
    for shape, hours in zip(yards.geometry, table["sun_h_mean"], strict=True):
        rows, cols = grid.window(shape.bounds)
        raster[rows, cols] = hours
    ground = gpd.GeoDataFrame(
        {"yard_id": yards["yard_id"], "growth_form": "herb"}, geometry=squares, crs=CRS_M
    )
    none, low, hosts = (
        gpd.GeoDataFrame({c: [] for c in names}, geometry="geometry", crs=CRS_M) for names in NOTHING
    )
    return Site(
        grid, {"sun_h": raster}, {}, ground, none, table, placeable=True, height_limits=low, host_limits=hosts
    )

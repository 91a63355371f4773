"""GeoJSON for the web, on request."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pyogrio

from habitat.report.package.geopackage import table_frame
from habitat.report.package.tables import TABLES
from habitat.report.plan import Plan


def write_geojson(plan: Plan, folder: Path) -> None:
    """Write every layer that has shapes as GeoJSON, in longitude and latitude.

    References
    ----------
    RFC 7946: WGS 84, outer rings anticlockwise; seven decimals are about a centimetre.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for table in TABLES:
        if table.geometry:
            frame = gpd.GeoDataFrame(table_frame(plan, table)).to_crs(4326)
            pyogrio.write_dataframe(
                frame,
                folder / f"{table.name}.geojson",
                driver="GeoJSON",
                layer=table.name,
                layer_options={"RFC7946": "YES", "COORDINATE_PRECISION": "7"},
            )

"""Which layers and rasters a study may name, and how each is to be read."""

from __future__ import annotations

import datetime as dt
import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from habitat.factors import FACTORS
from habitat.settings.base import Section, setting
from habitat.settings.limits import LimitSettings

VECTOR_LAYERS = (
    "yards",
    "participants",
    "plants",
    "buildings",
    "paving",
    "water",
    "trees",
    "wires",
    "buried",
    "septic",
    "downspouts",
    "fences",
    "streets",
    "landcover",
    "anchors",
    "soil_units",
    "soil_tests",
    "growers",
    "sightings",
    "keep",
    "lawn",
    "season",
    "matches",
    "more_yards",
    "parcel_changes",
    "walk",
)


OTHER_RASTERS = ("surface_m", "terrain_m", "sand_pct", "silt_pct", "clay_pct", "landcover")
"""Rasters that factors are worked out from; a raster of a factor itself bears the factor's name."""


def raster_layers() -> tuple[str, ...]:
    """Return the names of the rasters that a study may give."""
    return (*(name for name, factor in FACTORS.items() if factor.given), *OTHER_RASTERS)


def mapped_on(value: Any) -> Any:
    """Return a year as its last day, the latest that it can mean; other values as they are.

    Examples
    --------
    >>> mapped_on("2019").isoformat(), mapped_on(2019) == mapped_on("2019"), mapped_on("2019-05-01")
    ('2019-12-31', True, '2019-05-01')
    """
    if isinstance(value, (int, str)) and re.fullmatch(r"[12]\d{3}", str(value).strip()):
        return dt.date(int(value), 12, 31)
    if isinstance(value, (int, float)):  # no seconds since 1970
        raise ValueError('it must be a year or a date in quotes, such as "2019" or "2019-05-01"')
    return value


class VectorSource(Section):
    """``[layers.NAME]``: where a vector layer or table is, and how to read it."""

    path: str = setting(..., "The file, relative to the study file.", example="parcels.gpkg")
    layer: str | None = setting(
        None, "Which layer or sheet, where a file holds several.", example="parcels_2026"
    )
    crs: str | None = setting(
        None,
        "Coordinate reference system, where the file says none or a wrong one.",
        example="EPSG:2263",
    )
    encoding: str | None = setting(
        None, "Character encoding of text, where it comes out garbled.", example="cp1252"
    )
    geometry: str | None = setting(None, "Column of shapes (WKT, WKB or GeoJSON).", example="the_geom")
    x: str | None = setting(None, "Column of x or longitude; y goes with it.", example="lon")
    y: str | None = setting(None, "Column of y or latitude.", example="lat")
    columns: dict[str, str] = setting(
        {}, "Our name of a column = the heading in the file.", example={"yard_id": "PIN", "address": "SITUS"}
    )
    where: str | None = setting(
        None, "Only rows for which this holds, as SQL writes conditions.", example="CITY = 'OUR TOWN'"
    )
    date: Annotated[dt.date | None, BeforeValidator(mapped_on)] = setting(
        None,
        "When it was mapped, a year or a date: sheets tell of trees, paving, wires ... that were mapped over "
        "5 years ago (judgement); left out: not known, nothing is told.",
        example="2019",
    )


class RasterSource(Section):
    """``[rasters.NAME]``: where a raster is, and how to read it."""

    path: str = setting(..., "The file, relative to the study file.", example="ph.tif")
    band: Annotated[int, Field(ge=1)] | None = setting(
        None, "Which band, where a file holds several.", unit="number, from 1", example=2
    )
    crs: str | None = setting(
        None,
        "Coordinate reference system, where the file says none or a wrong one.",
        example="EPSG:5070",
    )
    scale: float | None = setting(
        None, "Stored values are multiplied by this; left out: by what the file declares.",
        unit="the raster's own per stored number", example=0.1,
    )  # fmt: skip
    offset: float | None = setting(
        None, "Then this is added; left out: what the file declares.", unit="the raster's own", example=0
    )
    nodata: float | None = setting(
        None, "Stored value that means unknown; left out: what the file declares.", unit="as stored",
        example=-9999,
    )  # fmt: skip
    kind: Literal["continuous", "class"] | None = setting(
        None, "Whether values are quantities or codes of classes; left out: found out.", example="class"
    )
    classes: str | dict[str, str] | None = setting(
        None, "What codes mean: a table (CSV of code and name) or pairs.", example={"1": "loam", "2": "clay"}
    )
    error: float | dict[str, float] | None = setting(
        None,
        "How far the map may be off: a standard deviation in its unit; for classes the chance that the "
        "mapped one is wrong, or the chance of each class to be right.",
        unit="the raster's own, or probability",
        example=0.4,
    )


def full_path(folder: Path, path: str) -> Path:
    """Return a path that a study states as a path on disk.

    Parameters
    ----------
    folder
        Where relative paths start: the folder of the study file.
    path
        As stated; variables of the environment ($HOME) are filled in where it is relative.

    Examples
    --------
    >>> full_path(Path("our_street"), "yards.gpkg").as_posix()
    'our_street/yards.gpkg'
    """
    return folder / os.path.expandvars(path) if not Path(path).is_absolute() else Path(path)


@dataclass(frozen=True, slots=True)
class Sources:
    """What is to be read, and the grid that all of it is brought onto.

    Parameters
    ----------
    vectors, rasters
        By name, of ``VECTOR_LAYERS`` and ``raster_layers()``; "yards" among the vectors.
    folder
        Where relative paths start.
    crs
        The CRS that all is brought into, projected, in metres; None to go by the yards.
    cell_m
        Side of the cells of the analysis grid [m], > 0.
    named_in
        The file that names all this, for messages.
    memory_mb, processor_s
        What the grid may take [MB]; where reading happens in a process of its own, what that may take [MB],
        and what each file may [s], beside a second for each megabyte.
    everyone
        Whether yards that nobody signed up are members.

    Examples
    --------
    >>> parcels = VectorSource(path="parcels.gpkg", columns={"yard_id": "PIN"})
    >>> Sources({"yards": parcels}, folder=Path("our_street")).resolve("parcels.gpkg").as_posix()
    'our_street/parcels.gpkg'
    """

    vectors: dict[str, VectorSource]
    rasters: dict[str, RasterSource] = field(default_factory=dict)
    folder: Path = Path()
    crs: str | None = None
    cell_m: float = 1.0
    named_in: str = ""
    memory_mb: float = LimitSettings().memory_mb
    processor_s: float = LimitSettings().processor_s
    everyone: bool = False

    def resolve(self, path: str) -> Path:
        """Return a stated path as a path on disk."""
        return full_path(self.folder, path)

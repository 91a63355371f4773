"""Which layers and rasters a study may name, and how each is to be read."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from habitat.factors import FACTORS
from habitat.settings.base import Section

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
    "fences",
    "streets",
    "landcover",
    "anchors",
    "soil_units",
    "soil_tests",
    "growers",
    "sightings",
    "keep",
)


OTHER_RASTERS = ("surface_m", "terrain_m", "sand_pct", "silt_pct", "clay_pct", "landcover")
"""Rasters that factors are worked out from; a raster of a factor itself bears the factor's name."""


def raster_layers() -> tuple[str, ...]:
    """Return the names of the rasters that a study may give."""
    return (*(name for name, factor in FACTORS.items() if factor.given), *OTHER_RASTERS)


class VectorSource(Section):
    """``[layers.NAME]``: where a vector layer or table is, and how to read it."""

    path: str
    layer: str | None = None
    crs: str | None = None
    encoding: str | None = None
    geometry: str | None = None
    x: str | None = None
    y: str | None = None
    columns: dict[str, str] = Field(default_factory=dict)
    where: str | None = None


class RasterSource(Section):
    """``[rasters.NAME]``: where a raster is, and how to read it."""

    path: str
    band: Annotated[int, Field(ge=1)] | None = None
    crs: str | None = None
    scale: float | None = None
    offset: float | None = None
    nodata: float | None = None
    kind: Literal["continuous", "class"] | None = None
    classes: str | dict[str, str] | None = None
    error: float | dict[str, float] | None = None  # see suitability/uncertainty.py


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

    def resolve(self, path: str) -> Path:
        """Return a stated path as a path on disk."""
        return full_path(self.folder, path)

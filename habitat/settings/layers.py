"""Which layers and rasters a study may name, and how each is to be read."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

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


RASTER_LAYERS = (
    "sun_h",
    "surface_m",
    "terrain_m",
    "ph",
    "sand_pct",
    "silt_pct",
    "clay_pct",
    "texture",
    "drainage",
    "depth_cm",
    "landcover",
    "zone",
    "salt",
)


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

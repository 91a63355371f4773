"""The survey: sun, soil, open ground and a row per yard, from a study's layers."""

from __future__ import annotations

from collections.abc import Callable

from habitat.layers.types import Layers, Note
from habitat.site.ground import open_and_closed
from habitat.site.hours import sun_hours
from habitat.site.relief import build_relief
from habitat.site.soil import soil_factors
from habitat.site.types import Site
from habitat.site.yards import yard_table

Progress = Callable[[str, int, int], None]


def survey(layers: Layers, progress: Progress | None = None) -> Site:
    """Work out what each place offers.

    Parameters
    ----------
    layers
        What the study reads.
    progress
        Called with (stage in words, done, total).

    Raises
    ------
    ParameterError
        If the study's setbacks name something that the table does not have.
    """

    def tell(done: int) -> None:
        if progress is not None:
            progress("site", done, 4)

    tell(0)
    soil = soil_factors(layers)
    tell(1)
    relief, notes = build_relief(layers)
    rasters, by_month, sun_source = dict(soil.rasters), {}, "unknown"
    if relief is not None:
        hours = sun_hours(relief, layers.study)
        rasters |= {"sun_h": hours.mean, "sun_afternoon_h": hours.afternoon}
        by_month, sun_source = hours.by_month, relief.source
        notes.append(Note(None, "Sun: what lies beyond the grid is not seen and casts no shadow", 0))
    if "sun_h" in layers.rasters:
        rasters["sun_h"], sun_source = layers.rasters["sun_h"].read(layers.grid), "sun raster"
    tell(2)
    ground = open_and_closed(layers)
    tell(3)
    roof = None if relief is None else relief.roof
    yards = yard_table(
        layers, rasters, soil.sources, ground, roof=roof, sun_source=sun_source, tests=soil.tests
    )
    tell(4)
    return Site(
        layers.grid,
        rasters,
        by_month,
        ground.open_ground,
        ground.closed_ground,
        yards,
        ground.placeable,
        (*soil.notes, *notes, *ground.notes),
        ground.height_limits,
        ground.host_limits,
        relief,
    )

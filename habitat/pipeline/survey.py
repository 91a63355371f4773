"""The survey: sun, soil, open ground and a row per yard, from a study's layers."""

from __future__ import annotations

from habitat.ground.open_ground import open_and_closed
from habitat.layers.types import Layers
from habitat.progress import Progress
from habitat.site.types import Site
from habitat.site.yards import yard_table
from habitat.soil.factors import soil_factors
from habitat.sun.hours import SunTerms
from habitat.sun.light import survey_sun


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
    sun = survey_sun(layers)
    rasters = {**sun.rasters, **soil.rasters}
    tell(2)
    ground = open_and_closed(layers)
    tell(3)
    yards = yard_table(layers, rasters, soil, ground, sun)
    tell(4)
    return Site(
        layers.grid,
        rasters,
        sun.by_month,
        ground.open_ground,
        ground.closed_ground,
        yards,
        ground.placeable,
        (*soil.notes, *sun.notes, *ground.notes),
        ground.height_limits,
        ground.host_limits,
        sun.relief,
        None if sun.relief is None else SunTerms.of(layers.study),
        tuple(name for name in soil.by_tests if name in rasters),
        {name: frozenset(values) for name, values in soil.tests.items() if name in rasters},
    )

"""The survey: which layer of a study tells what, and what sun, soil and open ground come of it."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd

from habitat.arrays import FloatRaster
from habitat.ground.open_ground import Ground, open_and_closed
from habitat.ground.setbacks import SURROUNDINGS
from habitat.ground.things import steep_ground
from habitat.layers.rasters.window import read_raster
from habitat.layers.types import Layers
from habitat.pipeline.walked import Walked, in_told_light, in_told_wetness, read_walks
from habitat.progress import Progress
from habitat.remarks import Remark, Subject, remark
from habitat.site.types import Site
from habitat.site.yards import yard_table
from habitat.soil.factors import Soil, SoilMap, soil_factors, soil_maps
from habitat.study.model import Study
from habitat.sun.hours import SunTerms
from habitat.sun.light import Sun, sun_of_place
from habitat.sun.relief import Relief, build_relief
from habitat.terms import PLANNED


def survey(study: Study, layers: Layers, progress: Progress | None = None) -> Site:
    """Work out what each place offers.

    Parameters
    ----------
    study
        Its season and its section ``[site]``.
    layers
        What was read of it.
    progress
        Called with (stage in words, done, total).

    Returns
    -------
    Site
        Rasters of every factor that is known, open and closed ground, and a table by yard.

    Raises
    ------
    ParameterError
        If the study's setbacks name something that the table does not have.

    Examples
    --------
    >>> import habitat
    >>> study = habitat.read_study("sample_geodata")
    >>> site = survey(study, habitat.read_layers(study))
    >>> site.assessed[:3], site.placeable
    (('sun_h', 'sun_afternoon_h', 'ph'), True)
    """

    def tell(done: int) -> None:
        if progress is not None:
            progress("site", done, 4)

    tell(0)
    walked = read_walks(layers)
    soil = in_told_wetness(soil_of(study, layers), walked, layers.grid, layers.yards.crs)
    tell(1)
    sun = in_told_light(sun_of(study, layers), walked, layers.grid, layers.yards.crs)
    tell(2)
    ground = ground_of(study, layers, walked)
    tell(3)
    yards = yard_table(layers.yards, layers.grid, soil, ground, sun)
    tell(4)
    rasters = {**sun.rasters, **soil.rasters}
    return Site(
        grid=layers.grid,
        rasters=rasters,
        sun_by_month=sun.by_month,
        open_ground=ground.open_ground,
        closed_ground=ground.closed_ground,
        yards=yards,
        placeable=ground.placeable,
        notes=(*soil.notes, *sun.notes, *ground.notes, *walked.notes),
        height_limits=ground.height_limits,
        host_limits=ground.host_limits,
        relief=sun.relief,
        sun_terms=None if sun.relief is None else sun_terms(study),
        by_tests=tuple(name for name in soil.by_tests if name in rasters),
        tests={name: frozenset(values) for name, values in soil.tests.items() if name in rasters},
        walked=walked.known,
        unpaved=_unpaved(layers),
    )


def soil_of(study: Study, layers: Layers) -> Soil:
    """Soil: the rasters of ``soil_maps``, polygons of ``soil_units``, measurements of ``soil_tests``."""
    maps = {name: layers.rasters[name] for name in soil_maps() if name in layers.rasters}
    return soil_factors(
        layers.grid,
        layers.yards,
        maps={name: SoilMap(read_raster(m, layers.grid), m.cell_m, m.classes) for name, m in maps.items()},
        units=layers.frame("soil_units"),
        tests=layers.frame("soil_tests"),
        organic_matter_pct=study.site.organic_matter_pct,
    )


def sun_of(study: Study, layers: Layers) -> Sun:
    """Sun: heights (see ``relief_of``), the raster ``sun_h``, hours counted in ``soil_tests``."""
    relief, assumed = relief_of(study, layers)
    sun = sun_of_place(
        layers.grid,
        layers.yards,
        sun_terms(study),
        relief=relief,
        given_h=_raster(layers, "sun_h"),
        tests=layers.frame("soil_tests"),
        observed_reach_m=study.site.observed_reach_m,
    )
    sun.notes = [*assumed, *sun.notes]
    return sun


def relief_of(study: Study, layers: Layers) -> tuple[Relief | None, list[Remark]]:
    """Heights: ``surface_m`` before ``buildings`` and ``trees``, on ``terrain_m`` or on level ground."""
    return build_relief(
        layers.grid,
        study.site,
        buildings=layers.frame("buildings"),
        trees=layers.frame("trees"),
        terrain_m=_raster(layers, "terrain_m"),
        surface_m=_raster(layers, "surface_m"),
    )


def sun_terms(study: Study) -> SunTerms:
    """Months of the study, and leaves as its section ``[site]`` has them."""
    head = study.study
    return SunTerms.of(head.season, head.sun_months, study.site)


def ground_of(study: Study, layers: Layers, walked: Walked | None = None) -> Ground:
    """Open ground: yards less the layers of SURROUNDINGS, and less what ``terrain_m`` shows as steep."""
    settings = study.site
    terrain = _raster(layers, "terrain_m")
    steep = None if terrain is None else steep_ground(terrain, layers.grid, settings.steep_deg)
    frames = {name: layers.frame(name) for name in SURROUNDINGS}
    shown = {name: frame for name, frame in frames.items() if isinstance(frame, gpd.GeoDataFrame)}
    if walked is not None:
        shown |= walked.ground(shown, layers.yards.crs)
    ground = open_and_closed(layers.yards, shown, settings, steep=steep)
    if "buildings" not in layers.only_drawn() or _all_houses_drawn(layers):
        return ground
    told = remark("houses_only_drawn", Subject(layers=("buildings",)))
    return replace(ground, placeable=False, notes=(*ground.notes, told))


def _all_houses_drawn(layers: Layers) -> bool:
    """Return whether somebody drew a building in every yard that gets a plan."""
    houses, planned = layers.frame("buildings"), layers.yards[layers.yards["role"].isin(PLANNED)]
    return houses is not None and bool(planned.geometry.intersects(houses.union_all()).all())


def _unpaved(layers: Layers) -> frozenset[str]:
    """Return the yards of which no drawing tells of drive and walks, where only drawings do."""
    frame = layers.frame("paving")
    if frame is None or "paving" not in layers.only_drawn():
        return frozenset()
    without = ~layers.yards.geometry.intersects(frame.union_all())
    return frozenset(layers.yards.loc[without, "yard_id"].astype(str))


def _raster(layers: Layers, name: str) -> FloatRaster | None:
    """Return a raster's values on the grid, None if the study has no such raster."""
    return read_raster(layers.rasters[name], layers.grid) if name in layers.rasters else None

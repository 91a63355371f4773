"""Sun once the plan's own trees have grown."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np

from habitat.arrays import FloatRaster
from habitat.cells import zonal_table
from habitat.errors import ParameterError
from habitat.factors import FACTORS
from habitat.settings.site import SiteSettings
from habitat.site.types import Site
from habitat.sun.hours import SunHours, SunTerms, sun_hours
from habitat.sun.relief import Relief
from habitat.sun.trees import read_trees


def sun_with_trees(site: Site, trees: gpd.GeoDataFrame) -> Site:
    """Return the site with more trees and tall shrubs standing on it, at the size they are given with.

    Parameters
    ----------
    site
        A site whose sun was worked out from heights.
    trees
        Points or crowns in the site's CRS; height_m and crown_m [m] at maturity, evergreen (yes or no);
        leaf_start_month and leaf_end_month where they differ from the study's.

    Returns
    -------
    Site
        New ``rasters`` sun_h and sun_afternoon_h, ``sun_by_month``, ``relief``, and the sun columns of
        ``yards``; the rest is shared. Cells lose what the new trees take by the sums, so that a sun raster
        and counted hours keep their say. A further call adds trees to these.

    Raises
    ------
    ParameterError
        If the site has no heights to stand trees on, or a tree has no height or crown.
    """
    grown = standing_on(site, trees)
    if grown is site:
        return site
    rasters, before, after = _shaded(site, grown)
    yards, months = _relit(site, rasters), _months(site, after, before)
    return replace(grown, rasters=rasters, sun_by_month=months, yards=yards)


def rasters_with_trees(site: Site, trees: gpd.GeoDataFrame) -> dict[str, FloatRaster]:
    """Return ``rasters`` of ``sun_with_trees`` alone: no months, no sums by yard."""
    grown = standing_on(site, trees)
    return site.rasters if grown is site else _shaded(site, grown)[0]


def _shaded(site: Site, grown: Site) -> tuple[dict[str, FloatRaster], SunHours, SunHours]:
    """Return the rasters of a site once more trees stand, and its hours before and after."""
    before, after = site.sun_known or sun_hours(*site.heights()), sun_hours(*grown.heights())
    rasters = dict(site.rasters)
    for name, new, old in (
        ("sun_h", after.mean, before.mean),
        ("sun_afternoon_h", after.afternoon, before.afternoon),
    ):
        if name in rasters:
            rasters[name] = _less(rasters[name], new, old)
    return rasters, before, after


def standing_on(site: Site, trees: gpd.GeoDataFrame) -> Site:
    """Return the site with more trees in its heights, and its sun and yards as they were.

    Parameters
    ----------
    site, trees
        As ``sun_with_trees`` takes them; it raises the same errors.
    """
    relief, terms = site.heights()
    grown = _with_trees(relief, terms, trees)
    return site if grown is relief else replace(site, relief=grown, sun_known=None)


def _with_trees(relief: Relief, terms: SunTerms, trees: gpd.GeoDataFrame) -> Relief:
    """Return the relief with more trees on it, or itself if there are none."""
    planned, assumed = read_trees(trees, SiteSettings(leaf_on=terms.leaf_on))
    if assumed:
        measure = "height_m" if assumed[0].kind == "trees_without_height" else "crown_m"
        without = f"{assumed[0]['count']} of {assumed[0]['of']} with no {measure}"
        raise ParameterError("trees", without, "every tree with height_m and crown_m")
    return relief if planned is None else relief.with_trees(planned)


def _less(had: FloatRaster, new: FloatRaster, old: FloatRaster) -> FloatRaster:
    """Return hours less what was taken; what the sums do not know stays as it was."""
    return np.maximum(had + np.nan_to_num(new - old), np.float32(0))


def _months(site: Site, after: SunHours, before: SunHours) -> dict[int, FloatRaster]:
    return {m: _less(had, after.by_month[m], before.by_month[m]) for m, had in site.sun_by_month.items()}


def _relit(site: Site, rasters: dict[str, FloatRaster]) -> gpd.GeoDataFrame:
    """Return the yards with their sun summed up anew."""
    lit: dict[str, FloatRaster] = {
        f.name: rasters[f.name] for f in FACTORS.of_group("sun") if f.name in rasters
    }
    table = zonal_table(site.yards.geometry, lit, site.grid)
    return site.yards.assign(**{f"{name}_mean": table[f"{name}_mean"] for name in lit})

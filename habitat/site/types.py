"""What each place offers: the site's rasters by window, open ground, closed ground, yard summaries."""

from __future__ import annotations

from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from habitat.errors import ParameterError
from habitat.factors import FACTORS
from habitat.grid import Bounds, Grid
from habitat.remarks import Remark
from habitat.sun.hours import SunHours, SunTerms
from habitat.sun.relief import Relief

GROWTH_FORM = {"forb": "herb", "graminoid": "herb", "vine": "shrub", "shrub": "shrub", "tree": "tree"}
"""Which open ground a plant's form needs: setbacks differ by growth form."""


def _empty(*columns: str) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame({name: [] for name in columns}, geometry=[])


@dataclass(frozen=True, slots=True)
class SiteWindow:
    """The factors over one window: ``values[name]`` is float32 ``(rows, cols)``, NaN where unknown.

    A factor that the study has no layer for is not a key: it is *not assessed*.
    """

    grid: Grid
    values: dict[str, NDArray[np.float32]]


@dataclass(frozen=True, slots=True)
class Site:
    """What the ground offers.

    open_ground : a row per yard and growth form: yard_id, growth_form (herb, shrub, tree), open_m2, geometry
        (may be empty). Without a buildings layer they are what could be open at most.
    closed_ground : a row per closed piece: yard_id, what (key of ``Setback``), reason (words), growth_form
        ("all" or one), setback_m, caution (words, may be empty), geometry. Pieces of different reasons may
        overlap: each tells its own.
    yards : a row per yard in their given order: yard_id, area_m2, open_m2 (for herbs; NaN if not
        placeable), sun_h_mean, sun_h_source, ph_mean, ph_source, drainage_mode, texture, depth_cm_mean,
        known_share (of area x assessed factors), geometry.
    sun_by_month : month -> float32 raster on ``grid`` [h per clear day], for the months of the season.
    placeable : False without a buildings layer: no bed is placed then, counts and sizes only.
    height_limits : ground where plants must stay low: yard_id, what, reason, height_max_m, caution, geometry.
    host_limits : ground where no caterpillar host may stand: yard_id, reason, geometry.
    by_tests : factors that no map tells, only soil tests in their own yards: elsewhere they are not assessed.
    tests : factor -> yards where a soil test tells it: what a map states of its error does not hold there.
    walked : yards whose household walked them -> obstacles (``ground.unseen``) that nobody need look for
        there any more, "sun" where it told how much there is in front and back, "wet" where it told on which
        side water stands.
    unpaved : yards of whose drive and walks nobody told, where those of others are only drawn.
    relief, sun_terms : the heights that the sun was worked out from (``habitat.sun.relief.Relief``) and the
        months and leaves that it was worked out for (``habitat.sun.hours.SunTerms``); None without any.
    sun_known : what ``sun_hours`` gives for these, where somebody kept it.
    """

    grid: Grid
    rasters: dict[str, NDArray[np.float32]]
    sun_by_month: dict[int, NDArray[np.float32]]
    open_ground: gpd.GeoDataFrame
    closed_ground: gpd.GeoDataFrame
    yards: gpd.GeoDataFrame
    placeable: bool
    notes: tuple[Remark, ...] = ()
    height_limits: gpd.GeoDataFrame = field(
        default_factory=lambda: _empty("yard_id", "what", "reason", "height_max_m", "caution")
    )
    host_limits: gpd.GeoDataFrame = field(default_factory=lambda: _empty("yard_id", "reason"))
    relief: Relief | None = None
    sun_terms: SunTerms | None = None
    by_tests: tuple[str, ...] = ()
    tests: dict[str, frozenset[str]] = field(default_factory=dict)
    walked: dict[str, frozenset[str]] = field(default_factory=dict)
    unpaved: frozenset[str] = frozenset()
    sun_known: SunHours | None = None

    @property
    def assessed(self) -> tuple[str, ...]:
        """Names of the factors that the study has a layer for."""
        return tuple(name for name in FACTORS.in_tables if name in self.rasters)

    def tested_in(self, yard_id: str) -> tuple[str, ...]:
        """Return the factors that a soil test tells in a yard."""
        return tuple(name for name in self.assessed if yard_id in self.tests.get(name, ()))

    def heights(self) -> tuple[Relief, SunTerms]:
        """Return the heights that the sun was worked out from, and the months.

        Raises
        ------
        ParameterError
            If the sun was not worked out from heights.
        """
        if self.relief is None or self.sun_terms is None:
            raise ParameterError(
                "site", "without heights", "surveyed with heights, buildings, trees or a terrain"
            )
        return self.relief, self.sun_terms

    def window(self, bounds: Bounds) -> SiteWindow:
        """Return the factors over the cells that bounds touch.

        Parameters
        ----------
        bounds
            (west, south, east, north) [m]; what lies beyond the grid is left out.
        """
        rows, cols = self.grid.window(bounds)
        return SiteWindow(self.grid.crop(rows, cols), {k: v[rows, cols] for k, v in self.rasters.items()})

"""Low at the front of a bed, not too tall at its back: what a designer's limits leave of a bed site.

The front is the side of the lawn or path; without a wall, fence or path edge along the bed, the sunny side.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.planting.drawing.drifts import Frame
from habitat.planting.types import BedSite
from habitat.settings.planting import PlantingSettings

FRONT_SHARE = 1.0 / 3.0
"""The front is this share of a bed's depth: judgement."""


def front_limit_m(settings: PlantingSettings) -> float:
    """Return the greatest mature height [m] at the front of beds; inf without a limit."""
    return settings.front_max_height_m or math.inf


def with_height_limits(site: BedSite, height_m: NDArray[np.float64], settings: PlantingSettings) -> BedSite:
    """Return a bed site with the limits of the settings for its front and back.

    Parameters
    ----------
    site
        Only beds have a front; spots of single trees and shrubs stay as they are.
    height_m
        Mature height (plants,) in the order of ``BedSite.capacity``.
    settings
        ``front_max_height_m`` and ``back_max_height_m``. What is taller than the first has the back two
        thirds of the bed; its room is counted as that, which is on the safe side beside lower kinds.
    """
    if site.growth_form != "herb":
        return site
    behind = height_m > front_limit_m(settings)
    room = np.floor(site.capacity * (1.0 - FRONT_SHARE) + 1e-9).astype(np.int64)
    return replace(
        site,
        height_max_m=min(site.height_max_m, settings.back_max_height_m or math.inf),
        capacity=np.where(behind, room, site.capacity),
    )


def front_of(polygon: Polygon, frame: Frame) -> BaseGeometry:
    """Return the front of a bed on the map, a little wider than the bed."""
    west, south, east, north = frame.into(polygon).bounds
    depth = FRONT_SHARE * (north - south)
    return frame.back_shape(shapely.box(west - 1.0, south - 1.0, east + 1.0, south + depth))

"""What planting takes and hands on."""

from __future__ import annotations

from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from habitat.arrays import Floats
from habitat.remarks import Remark


@dataclass(frozen=True, slots=True)
class Cells:
    """What the cells under a bed site offer.

    x, y (C,) : their centres [m]. cell_m : how wide they are. values : factor -> (C,) float32 in its unit,
    NaN where unknown.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    cell_m: float
    values: dict[str, NDArray[np.float32]]


@dataclass(frozen=True, slots=True)
class BedSite:
    """A place where one bed could be: a clean polygon inside the open ground of its growth form.

    At least 1.2 m wide where a bed, reachable from an edge; for "tree" and lone shrubs a spot with room for
    the crown. ``fit`` (plants,) is the mean lower-bound fit 0-1 over its cells in the order of
    ``Needs.plants``, ``limiting`` (plants,) the code of the need that costs most of it. ``capacity``
    (plants,) is how many plants of each kind fill the whole site alone at their spacing (0 = does not fit),
    counted by real packing. ``height_max_m`` comes from sight triangles and the like (inf if none).
    ``closed_to_hosts`` is the reason that no host may stand here (sprayed yard, busy road edge), or "".
    ``ground`` is where stems may stand in a herb bed ("herb") and where shrubs may ("shrub": inside the
    shrubs' open ground too; may be empty); ``keep_clear`` are walls and wires that crowns of shrubs and
    trees stay off. ``along`` is the unit vector (x, y) along the bed, ``back`` the one from the lawn
    towards the wall, fence or path edge that it follows ((0, 0): none). ``grown`` is there once the plan's
    trees are chosen; ``fit``, ``limiting`` and ``sun_h_mean`` are then those of the light that they leave.
    ``cells`` is what each cell of it offers, by which what is drawn is judged at each plant; None where
    beds are made by hand. ``joins`` is the site_id of the bed that a ring reaches into (None: it stands
    alone); ``ground["ring"]`` is the ring around a tree or tall shrub in a place of its own, and
    ``ground["herb"]`` what of it a ground layer may have. ``stepping`` (n, 2) are the middles of the stepping
    places without which the bed is too wide to be reached from its edges.
    ``people`` : walks, doors and play ground, from which poisonous plants stand away; ``around`` :
    what lies around it that contains plants that spread (mown_edge, mowing, lawn, paving, sun, shade).
    ``drawn_times`` : how many times the ground counted for its plants drawings found it to take.
    """

    site_id: int
    growth_form: str
    polygon: Polygon
    area_m2: float
    sun_h_mean: float
    fit: NDArray[np.float64]
    limiting: NDArray[np.uint8]
    capacity: NDArray[np.int64]
    height_max_m: float = float("inf")
    closed_to_hosts: str = ""
    ground: dict[str, BaseGeometry] = field(default_factory=dict)
    keep_clear: BaseGeometry | None = None
    along: tuple[float, float] = (1.0, 0.0)
    back: tuple[float, float] = (0.0, 0.0)
    grown: Grown | None = None
    joins: int | None = None
    stepping: Floats = field(default_factory=lambda: np.empty((0, 2)))
    cells: Cells | None = None
    people: BaseGeometry | None = None
    around: tuple[str, ...] = ()
    drawn_times: float = 1.0

    @property
    def ringed(self) -> bool:
        """Whether it is a place for one tree or tall shrub with a ring of ground layer around it."""
        return "ring" in self.ground


@dataclass(frozen=True, slots=True)
class Grown:
    """A bed site once the plan's trees and tall shrubs are chosen, stand for good and have grown.

    fixed, at : those that stand in this site, and their points (n, 2) by plant. class_before, class_after
    (plants,) : 1 (S1) to 4 (N) by the site's mean fit, without and with the trees of all plans. falls
    (plants,) : a class or more lower, trees themselves apart. kept_out (plants,) : may no longer be chosen
    here. first : other plants that were chosen here before the trees had grown. sun_before_h, cells_before :
    the site's sun, and what its cells offer, without their shade, which those that stand in it keep.
    """

    fixed: tuple[Allocation, ...]
    at: dict[str, NDArray[np.float64]]
    class_before: NDArray[np.uint8]
    class_after: NDArray[np.uint8]
    falls: NDArray[np.bool_]
    kept_out: NDArray[np.bool_]
    first: frozenset[str]
    sun_before_h: float
    cells_before: Cells | None = None


@dataclass(frozen=True, slots=True)
class YardContext:
    """What bed sites of one yard must know beside its ground: rows of the site's and the plan's tables.

    closed_ground, height_limits, host_limits : rows of ``Site`` for the yard. existing : rows of
    ``existing_plants`` for the yard. keep : polygons and points that stay as they are, or None.
    latitude_deg : of the yard; its sign says where the shady side is. street : streets near the yard, or None
    where none are known. paving_known : whether anything tells of drives and walks: a layer,
    or the household.
    """

    latitude_deg: float
    closed_ground: gpd.GeoDataFrame
    height_limits: gpd.GeoDataFrame
    host_limits: gpd.GeoDataFrame
    existing: gpd.GeoDataFrame
    keep: gpd.GeoDataFrame | None = None
    street: BaseGeometry | None = None
    paving_known: bool = True


@dataclass(frozen=True, slots=True)
class Drawn:
    """One yard's choice on the ground: rows for the tables ``beds``, ``plantings`` and ``plant_points``.

    ``dropped`` says, in words, which plants the program chose and the ground did not hold.
    """

    beds: gpd.GeoDataFrame
    plantings: gpd.GeoDataFrame
    points: gpd.GeoDataFrame
    dropped: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Accounts:
    """Habitat recomputed from what stands and what is drawn: tables as in ``Planting``."""

    yard_butterflies: pd.DataFrame
    breeding: gpd.GeoDataFrame
    nectar_stones: gpd.GeoDataFrame


@dataclass(frozen=True, slots=True)
class Allocation:
    """``count`` plants of one kind in one bed site, bought in one form.

    layer : "structure", "season" or "ground" of the bed. groups : plants set together, the sum is ``count``.
    """

    site_id: int
    plant: str
    form: str
    count: int
    cost: float
    purpose: str
    butterflies: tuple[str, ...]
    why: str
    year: int = 1
    layer: str = ""
    groups: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """What the program chose for one yard, with its proof.

    ``worth`` and ``bound`` are in the program's own units (habitat m2, weighted, plus secondary aims);
    ``habitat_m2`` is what the program predicts per butterfly; ``relaxed`` says, in order, what was
    wished for and could not be had.
    """

    yard_id: str
    allocations: tuple[Allocation, ...]
    worth: float
    bound: float
    habitat_m2: dict[str, float]
    relaxed: tuple[Remark, ...]
    cost: float


@dataclass(frozen=True, slots=True)
class Planting:
    """Plans of all yards: tables as report/TABLES.md lists them.

    ``yard_results`` has a row per planned yard: yard_id, worth, bound, gap, cost, habitat_program_m2,
    relaxed (a tuple of remarks). ``yard_butterflies`` and ``breeding`` are recomputed from the drawn points.
    ``breeding`` has a row per yard, butterfly and state: yard_id, butterfly, state ("before" or "planned"),
    habitat_m2, broods (a year, fed by its plants), geometry (host crowns and beds; never the parcel).
    "planned" includes what stands already. Rows exist only where habitat_m2 > 0. ``nectar_stones`` : yards
    with nectar but no habitat, geometry of the nectar. ``bed_sites`` : the places found for beds, by yard,
    for the next round. ``order`` : the yards as they chose, for the next run.
    """

    beds: gpd.GeoDataFrame
    plantings: gpd.GeoDataFrame
    plant_points: gpd.GeoDataFrame
    yard_results: pd.DataFrame
    yard_butterflies: pd.DataFrame
    breeding: gpd.GeoDataFrame
    nectar_stones: gpd.GeoDataFrame
    notes: tuple[Remark, ...] = ()
    bed_sites: dict[str, list[BedSite]] = field(default_factory=dict)
    order: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Milestone:
    """How far a corridor had come at one run of a chain; None is not known.

    date : of the run. after : SHA-256 of the run.json of the run before, "" if there was none. asked : yards
    that have said yes or no. joined : yards that take part. planted : yards whose plan is planted. alive :
    plants that live of those that plans set. broods : broods a year that yards feed today. area_m2 : linked
    breeding ground today. species : butterflies that somebody has seen.
    """

    date: str
    after: str
    asked: int
    joined: int
    planted: int
    alive: int
    broods: float | None
    area_m2: float | None
    species: int | None

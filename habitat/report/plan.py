"""The result of a run: every table of the plan."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.knowledge.tables import Knowledge
from habitat.layers.types import Layers
from habitat.planting.settled import Carried
from habitat.remarks import Remark
from habitat.report.words.figures import FIGURES
from habitat.site.types import Site
from habitat.study.model import Study


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that a run found out; tables as report/TABLES.md lists them.

    Examples
    --------
    >>> import habitat
    >>> plan = habitat.run(habitat.read_study("sample_geodata"))  # doctest: +SKIP
    >>> plan.plantings.query("butterflies.str.contains('Danaus')")["count"].sum()  # doctest: +SKIP
    >>> plan.headline["together"]["members"]["broods"]  # doctest: +SKIP
    >>> habitat.write_plan(plan, "first_plan")  # doctest: +SKIP
    """

    study: Study
    layers: Layers
    site: Site
    knowledge: Knowledge
    yards: gpd.GeoDataFrame
    existing_plants: gpd.GeoDataFrame
    beds: gpd.GeoDataFrame
    plantings: gpd.GeoDataFrame
    plant_points: gpd.GeoDataFrame
    yard_butterflies: pd.DataFrame
    links: gpd.GeoDataFrame
    chain: gpd.GeoDataFrame
    invitations: gpd.GeoDataFrame
    set_aside: gpd.GeoDataFrame
    open_ground: gpd.GeoDataFrame
    headline: dict[str, Any]
    invitation_steps: pd.DataFrame
    yard_results: pd.DataFrame
    breeding: gpd.GeoDataFrame | None = None  # breeding ground by yard, butterfly and state
    nectar_stops: gpd.GeoDataFrame | None = None  # ground with nectar alone, by yard and state
    bed_sites: gpd.GeoDataFrame | None = None  # places found for beds, trees and shrubs
    blocks: pd.DataFrame | None = None  # neighbours to ask in one go; for the group alone
    breaks: dict[str, dict[str, Any]] = field(default_factory=dict)
    sentences: tuple[Remark | str, ...] = ()
    run_info: dict[str, Any] = field(default_factory=dict)
    notes: tuple[Remark | str, ...] = ()
    timings: dict[str, dict[str, float]] = field(default_factory=dict)
    decisions: pd.DataFrame | None = None  # what became of each yard's plan; for the group alone
    carried: Carried | None = None  # what a later run takes over; for the group alone
    edits: tuple[Remark, ...] = ()  # what was found in tables that people edited; for the group alone
    asked: dict[str, str] = field(default_factory=dict)  # yards not asked this year, and what to tell
    as_edited: dict[str, bytes] = field(default_factory=dict)  # what people edited, as it came

    @property
    def corridor(self) -> pd.DataFrame:
        """Absolute figures of the headline: a row per butterfly and state, "" for all together."""
        entries = {"": self.headline.get("together", {}), **self.headline.get("butterflies", {})}
        rows = [
            {"butterfly": name, "state": state} | {f: entry[state].get(f) for f in ("habitat_m2", *FIGURES)}
            for name, entry in entries.items()
            for state in ("today", "members", "invited", "everyone")
            if state in entry
        ]
        return pd.DataFrame(rows, columns=["butterfly", "state", "habitat_m2", *FIGURES])

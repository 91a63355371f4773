"""The result of a run: every table of the plan, and ``write``."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.knowledge.tables import Knowledge
from habitat.layers.types import Layers
from habitat.progress import Progress
from habitat.remarks import Remark
from habitat.site.types import Site
from habitat.study.model import Study


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that a run found out; tables as DEVELOPERS.md lists them.

    Examples
    --------
    >>> import habitat
    >>> plan = habitat.run(habitat.read_study("sample_geodata"))  # doctest: +SKIP
    >>> plan.plantings.query("butterflies.str.contains('Danaus')")["count"].sum()  # doctest: +SKIP
    >>> plan.headline["joint_score"]["members"]  # doctest: +SKIP
    >>> plan.write("first_plan")  # doctest: +SKIP
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
    breaks: dict[str, dict[str, Any]] = field(default_factory=dict)
    sentences: tuple[Remark | str, ...] = ()
    run_info: dict[str, Any] = field(default_factory=dict)
    notes: tuple[Remark | str, ...] = ()
    timings: dict[str, dict[str, float]] = field(default_factory=dict)

    def write(
        self,
        folder: str | Path,
        *,
        replace: bool = False,
        workers: int = 1,
        progress: Progress | None = None,
        told: list[str] | None = None,
    ) -> Path:
        """Write all results into a folder, whole or not at all; see ``habitat.report.write.write_plan``."""
        from habitat.report.write import write_plan  # noqa: PLC0415  (the writers import this module)

        return write_plan(self, Path(folder), replace=replace, workers=workers, progress=progress, told=told)

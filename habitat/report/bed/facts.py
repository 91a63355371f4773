"""A designed bed as a plan of one yard, so that the sheets' words and drawings serve it too."""

from __future__ import annotations

from typing import Literal

import geopandas as gpd
import pandas as pd

from habitat.bed.design import BedPlan
from habitat.grid import Grid
from habitat.layers.types import Layers, VectorLayer
from habitat.report.plan import Plan
from habitat.report.sheets.facts import FactFinder, YardFacts
from habitat.settings.layers import VectorSource
from habitat.settings.report import ReportSettings
from habitat.settings.study import StudyHead
from habitat.site.types import Site
from habitat.study.model import Study

YARD = "bed"


def bed_facts(bed: BedPlan) -> YardFacts:
    """Return a designed bed as a yard sheet's words take it."""
    return FactFinder(_plan(bed)).of(YARD)


def bed_units(bed: BedPlan) -> Literal["metric", "us"]:
    """Return the units that the size was said in: "metric" or "us"."""
    return "us" if bed.facts.size.us else "metric"


def _plan(bed: BedPlan) -> Plan:
    """Return the plan of a study that holds nothing but the bed."""
    planting, facts = bed.planting, bed.facts
    crs, outline = planting.beds.crs, facts.size.outline
    household = {"yard_id": YARD, "role": "member", "children": facts.children, "pets": facts.pets}
    yards = gpd.GeoDataFrame([household], geometry=[outline], crs=crs)
    none = gpd.GeoDataFrame({"yard_id": []}, geometry=[], crs=crs)
    layers = Layers(crs, Grid.from_bounds(outline.bounds, 1.0, crs), {"yards": _layer(yards)}, {})
    site = Site(layers.grid, {}, {}, none, none, yards, placeable=True)
    return Plan(
        study=_study(bed),
        layers=layers,
        site=site,
        knowledge=bed.knowledge,
        yards=yards,
        existing_plants=none,
        beds=planting.beds,
        plantings=planting.plantings,
        plant_points=planting.plant_points,
        yard_butterflies=planting.yard_butterflies,
        links=none,
        chain=none,
        invitations=none,
        set_aside=none,
        open_ground=none,
        headline={},
        invitation_steps=pd.DataFrame(),
        yard_results=planting.yard_results,
    )


def _study(bed: BedPlan) -> Study:
    return Study(
        study=StudyHead(name="A bed", season=bed.knowledge.region.season_months),
        layers={"yards": VectorSource(path="bed")},
        planting=bed.settings,
        report=ReportSettings(units=bed_units(bed), paper="letter"),
    )


def _layer(yards: gpd.GeoDataFrame) -> VectorLayer:
    return VectorLayer("yards", yards, len(yards), len(yards), 0, yards.iloc[:0], None, None)

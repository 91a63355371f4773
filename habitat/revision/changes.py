"""What changed under plans that are kept: told yard by yard, never applied."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

import geopandas as gpd
import pandas as pd

from habitat.errors import LayerError, StudyError
from habitat.knowledge import Knowledge
from habitat.planting.settled import Settled
from habitat.planting.standing import standing_fit
from habitat.remarks import Remark, Subject, remark
from habitat.site.types import Site
from habitat.suitability.types import Needs

COVERED = 0.05
"""A smaller share of a bed that is not open any more is drawing, not change (judgement)."""

ON_LIMIT = 1.0 / 255.0
"""Fit is kept in steps of this."""


def refuse_unknown(settled: Settled, knowledge: Knowledge, where: str) -> None:
    """Refuse plans whose plants the tables do not know, or whose rows do not hold together.

    Raises
    ------
    StudyError
        If a plant is in no table.
    LayerError
        If points, plantings and beds do not fit each other.
    """
    drawn = settled.drawn
    for yard, plant in zip(drawn.plantings["yard_id"], drawn.plantings["plant"], strict=True):
        if plant not in knowledge.plants.index:
            what = f"yard {yard} keeps a planting of {plant!r}, which is in no plant table any more"
            mend = "Put the plant back into the tables, or make the yard a draft in decisions.csv"
            raise StudyError(what, where, mend)
    twice = drawn.plantings.loc[drawn.plantings["planting_id"].duplicated(), "planting_id"]
    if len(twice):
        what = f"in plan.gpkg, layer plantings, two rows are of planting {twice.iloc[0]}: it has been edited"
        raise LayerError(what, where, "Run 'habitat redraw' on these results first, or put the file back")
    points = drawn.points.groupby("planting_id").size()
    counts = drawn.plantings.set_index("planting_id")["count"]
    wrong = [p for p in points.index if p not in counts.index or counts[p] != points[p]]
    beds = set(drawn.beds["bed_id"])
    wrong += [b for b in drawn.points["bed_id"].unique() if b not in beds]
    if wrong:
        what = f"in plan.gpkg the rows of {wrong[0]} do not fit each other: it has been edited"
        raise LayerError(what, where, "Run 'habitat redraw' on these results first, or put the file back")


def changes_under(
    settled: Settled,
    site: Site,
    needs: Needs,
    was: gpd.GeoDataFrame,
    stands: gpd.GeoDataFrame,
    had_fit: Mapping[str, float],
) -> tuple[Remark, ...]:
    """Return what changed since under plans that are kept.

    Parameters
    ----------
    settled
        The plans.
    site, needs
        What places offer now, and what plants need by the tables of now.
    was, stands
        ``existing_plants`` of the earlier run and of now.
    had_fit
        Fit [0-1] of each planting when it was planned, as ``fit_of_plantings`` gives it.
    """
    return (
        *_standing(settled, was, stands),
        *_ground(settled, site),
        *_fit(settled, fit_of_plantings(settled.drawn.points, site, needs), had_fit, needs),
    )


def fit_of_plantings(points: gpd.GeoDataFrame, site: Site, needs: Needs) -> dict[str, float]:
    """Return the mean fit [0-1] of each planting's points, in the light without the plan's own trees."""
    if not len(points):
        return {}
    fit = pd.Series(standing_fit(points, site, needs)).groupby(points["planting_id"].to_numpy()).mean()
    return {str(planting): float(value) for planting, value in fit.items()}


def _standing(settled: Settled, was: gpd.GeoDataFrame, stands: gpd.GeoDataFrame) -> Iterator[Remark]:
    """Yield which plants that stood in a yard are gone, and which came."""
    before, now = _named(was), _named(stands)
    for yard in settled.results["yard_id"]:
        gone = before.get(yard, Counter()) - now.get(yard, Counter())
        new = now.get(yard, Counter()) - before.get(yard, Counter())
        for names, came in ((gone, False), (new, True)):
            if names:
                told = tuple(sorted(dict.fromkeys(name for name, _, _ in names)))
                yield remark("standing_changed", Subject(yards=(yard,)), names=told, came=came)


def _named(table: gpd.GeoDataFrame) -> dict[str, Counter[tuple[str, float, float]]]:
    """Return what stands in each yard: name and place to a decimetre."""
    out: dict[str, Counter[tuple[str, float, float]]] = {}
    spots = table.geometry.centroid
    names = table["name_given"].fillna("").astype(str)
    for yard, name, spot in zip(table["yard_id"], names, spots, strict=True):
        out.setdefault(str(yard), Counter())[name, round(spot.x, 1), round(spot.y, 1)] += 1
    return out


def _ground(settled: Settled, site: Site) -> Iterator[Remark]:
    """Yield which beds do not lie in open ground any more."""
    if not site.placeable:
        return
    open_ground = {
        (str(y), str(form)): shape
        for y, form, shape in zip(
            site.open_ground["yard_id"],
            site.open_ground["growth_form"],
            site.open_ground.geometry,
            strict=True,
        )
    }
    beds = settled.drawn.beds
    for yard, number, form, shape in zip(
        beds["yard_id"], beds["bed_number"], beds["growth_form"], beds.geometry, strict=True
    ):
        ground = open_ground.get((str(yard), str(form)))
        lost = 1.0 if ground is None else float(shape.difference(ground).area / max(shape.area, 1e-9))
        if lost > COVERED:
            yield remark("bed_covered", Subject(yards=(str(yard),)), bed=int(number), share=lost)


def _fit(
    settled: Settled, now: Mapping[str, float], had: Mapping[str, float], needs: Needs
) -> Iterator[Remark]:
    """Yield which plants no longer suit their ground, by the tables and maps of now."""
    limit, rows = needs.class_limits[2] - ON_LIMIT, settled.drawn.plantings
    for planting, yard, plant, name in zip(
        rows["planting_id"], rows["yard_id"], rows["plant"], rows["common_name"], strict=True
    ):
        if now.get(planting, 1.0) < limit <= had.get(planting, 0.0):
            about = Subject(yards=(str(yard),), plants=(str(plant),))
            yield remark("fit_fell", about, common_name=str(name), had=had[planting], fit=now[planting])

"""Where the yards lie: the region whose tables serve them, their state, and what is native there."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from habitat.errors import StudyError
from habitat.knowledge.columns import split_list
from habitat.knowledge.region import SHIPPED, Region, find_region, shipped_regions
from habitat.knowledge.tables import Knowledge, load_knowledge
from habitat.settings.knowledge import KnowledgeSettings

BORDER_DEG = 0.03
"""So near another state the outlines, simplified to about 2 km, do not tell which it is: judgement."""


def knowledge_of_place(
    settings: KnowledgeSettings,
    yards: gpd.GeoDataFrame,
    folder: Path | None = None,
    *,
    states: Sequence[str] = (),
    refuse: bool = True,
) -> Knowledge:
    """Return the tables of the region in which the middle of some yards lies, with the states of all.

    Parameters
    ----------
    settings
        ``[knowledge]``: a stated region goes before the place.
    yards
        Shapes in any CRS.
    folder
        Where relative paths of own tables start.
    states
        Two-letter codes of the states to go by; empty: those in which yards lie.
    refuse
        Whether to raise outside of the region; else its tables (the nearest region's) are returned all the
        same.

    Raises
    ------
    StudyError
        If the yards lie outside the region and ``settings.elsewhere`` is not set.
    KnowledgeError, MissingFileError
        As ``load_knowledge``.
    """
    middle = _middle(yards)
    region = _region_of(settings, middle, folder)
    away = middle is not None and region.outline is not None and not region.holds(*middle)
    if away and refuse and not settings.elsewhere:
        raise _refusal(settings, region)
    knowledge = load_knowledge(settings.model_copy(update={"region": region.id}), folder)
    return replace(knowledge, states=tuple(states) or states_of(yards, region), memo={})


def _middle(yards: gpd.GeoDataFrame) -> tuple[float, float] | None:
    """Return longitude and latitude of the middle of some yards, None if there are none.

    The median over yards, so that one that is put far away by mistake does not move it.
    """
    at = _degrees(yards)
    return (float(np.median(at[:, 0])), float(np.median(at[:, 1]))) if len(at) else None


def _degrees(yards: gpd.GeoDataFrame) -> NDArray[np.float64]:
    """Return longitude and latitude (n, 2) of a point in each yard that has a shape."""
    shapes = yards.geometry[yards.geometry.notna() & ~yards.geometry.is_empty]
    if shapes.empty or shapes.crs is None:
        return np.empty((0, 2))
    return np.asarray(shapely.get_coordinates(shapes.representative_point().to_crs(4326)), float)


def _region_of(
    settings: KnowledgeSettings, middle: tuple[float, float] | None, folder: Path | None
) -> Region:
    if settings.region_folder is not None:
        own = Path(settings.region_folder)
        return find_region("", own if own.is_absolute() or folder is None else folder / own)
    if settings.region is not None:
        return find_region(settings.region)
    drawn = [region for region in shipped_regions().values() if region.outline is not None]
    if middle is None:
        return drawn[0]
    point = shapely.Point(middle)
    return min(drawn, key=lambda region: (shapely.distance(region.outline, point), region.id))


def _refusal(settings: KnowledgeSettings, region: Region) -> StudyError:
    shipped = shipped_regions()
    if settings.region is None and settings.region_folder is None:
        names = " or ".join(one.name for one in shipped.values())
        what = f"the yards lie outside every region that there are tables for ({names})"
        own = "Bring tables of the place (habitat new writes blank ones; name them under [knowledge])"
    else:
        what = f"the yards lie outside {region.name}, which the tables of knowledge.region are for"
        own = "Leave knowledge.region out to have it chosen by the place, or bring tables of the place"
    how = (
        f"{own}, or set elsewhere = true under [knowledge] to plan with these tables all the same: plants "
        "may be foreign or invasive there, and months and telephone numbers wrong"
    )
    return StudyError(what, "", how)


def outside_region(knowledge: Knowledge, yards: gpd.GeoDataFrame) -> tuple[str, ...]:
    """Return a warning if the middle of the yards, or some of them, lie outside the region of the tables.

    The region of a study's own tables is where its yards lie, so nothing is said of one without an outline.
    No place is named: the warning goes into results for everybody.

    Parameters
    ----------
    knowledge
        The tables.
    yards
        Shapes in any CRS.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> from shapely import box
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> yards = gpd.GeoDataFrame(geometry=[box(-82.0, 39.9, -81.9, 40.0)], crs=4326)
    >>> outside_region(knowledge, yards)
    ()
    >>> outside_region(knowledge, yards.translate(96.0).to_frame("geometry"))[0][:21]
    'The yards lie outside'
    """
    middle = _middle(yards)
    if knowledge.region.outline is None or middle is None:
        return ()
    if knowledge.region.holds(*middle):
        away = ~shapely.intersects_xy(knowledge.region.outline, *_degrees(yards).T)
        told = (
            f"{int(away.sum())} of {len(away)} yards lie outside {knowledge.region.name}, which the plant "
            "and butterfly tables are for: plants may be foreign there. See whether their place is right."
        )
        return (told,) if away.any() else ()
    return (
        f"The yards lie outside {knowledge.region.name}, which the plant and butterfly tables are for: "
        "plants may be foreign or invasive here, and butterflies, months and telephone numbers other ones. "
        "Do not plant from this before somebody who knows the place has made own tables (see own_tables and "
        "knowledge.region).",
    )


# The state, and what is native there.


@cache
def state_outlines() -> Mapping[str, tuple[str, BaseGeometry]]:
    """Return name and outline by state: US Census Bureau, public domain, simplified to about 2 km."""
    text = (SHIPPED / "shared" / "state_outlines.geojson").read_text(encoding="utf-8")
    return {
        str(f["properties"]["state"]): (str(f["properties"]["name"]), shape(f["geometry"]))
        for f in json.loads(text)["features"]
    }


def states_at(middle: tuple[float, float] | None) -> tuple[str, ...]:
    """Return the two-letter code of the state that holds a longitude and latitude, () for none that is known.

    Examples
    --------
    >>> states_at((-82.98, 39.98)), states_at((14.4, 50.1))
    (('OH',), ())
    """
    if middle is None:
        return ()
    point = shapely.Point(middle)
    return tuple(state for state, (_, outline) in state_outlines().items() if outline.intersects(point))[:1]


def states_of(yards: gpd.GeoDataFrame, region: Region | None = None) -> tuple[str, ...]:
    """Return the two-letter codes of the states in which yards lie, that of most yards first; () for none.

    Where some yards lie in a region, those outside of it do not count.

    Examples
    --------
    >>> from shapely import box
    >>> two = [box(-84.53, 39.2, -84.52, 39.21), box(-84.53, 38.9, -84.52, 38.91)]  # either side of a river
    >>> states_of(gpd.GeoDataFrame(geometry=two, crs=4326))
    ('KY', 'OH')
    """
    at = _degrees(yards)
    if region is not None and region.outline is not None:
        inside = shapely.intersects_xy(region.outline, *at.T)
        at = at[inside] if inside.any() else at
    here = shapely.MultiPoint(at).envelope
    held = {
        state: int(shapely.intersects_xy(outline, *at.T).sum())
        for state, (_, outline) in state_outlines().items()
        if outline.intersects(here)
    }
    return tuple(sorted((state for state in held if held[state]), key=lambda state: (-held[state], state)))


def state_names(states: Iterable[str]) -> str:
    """Return states by name, joined by "and".

    Examples
    --------
    >>> state_names(["OH", "KY"])
    'Ohio and Kentucky'
    """
    return " and ".join(
        state_outlines()[state][0] if state in state_outlines() else state for state in states
    )


def border_note(knowledge: Knowledge, yards: gpd.GeoDataFrame, stated: Sequence[str]) -> tuple[str, ...]:
    """Return that the state should be stated, where none is known or a border is near; else nothing."""
    if stated or yards.empty:
        return ()
    if not knowledge.states:
        return (
            "No state is known in which the yards lie, so that nobody judged which plants are native there: "
            "no plant is left out for it. Write states under [study], or ask a native plant society.",
        )
    here = shapely.MultiPoint(_degrees(yards)).envelope
    near = [s for s, (_, outline) in state_outlines().items() if shapely.distance(outline, here) < BORDER_DEG]
    if len(near) < 2:
        return ()
    both = "" if len(knowledge.states) < 2 else ": only plants recorded native in each are planned"
    return (
        f"The yards lie near the border of {state_names(near)}; what is native was judged for "
        f"{state_names(knowledge.states)}{both}. Write states under [study] to be sure.",
    )


def native_here(knowledge: Knowledge, plant: str) -> bool | None:
    """Return whether a plant is recorded native in every state of the yards; None where nobody has said.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> knowledge = replace(load_knowledge(KnowledgeSettings()), states=("OH",))
    >>> native_here(knowledge, "Asclepias incarnata")
    True
    """
    recorded = _recorded(knowledge, plant)
    if not knowledge.states or not recorded:
        return None
    return set(knowledge.states) <= recorded


def _recorded(knowledge: Knowledge, plant: str) -> set[str]:
    own = ("plants", plant, "recorded_native_states") in knowledge.own_cells
    table: Any = (
        knowledge.plants if own or plant not in knowledge.native_states.index else knowledge.native_states
    )
    column = "native_states" if table is knowledge.native_states else "recorded_native_states"
    return set(str(table.at[plant, column]).replace(";", " ").split())


def not_native_words(knowledge: Knowledge) -> str:
    """Return why a plant is left out that is not recorded native in the state."""
    return f"it is not recorded native in {state_names(knowledge.states)}"


def state_doubt(knowledge: Knowledge, plant: str) -> str:
    """Return the doubt about a plant's native record in the yards' states, "" if there is none."""
    if plant not in knowledge.native_states.index:
        return ""
    row: Any = knowledge.native_states.loc[plant]
    doubtful = set(split_list(str(row["doubtful_states"]).replace(" ", ";")))
    return str(row["state_level_doubt"]) if doubtful & set(knowledge.states) else ""


def notice_days(knowledge: Knowledge) -> int:
    """Return the business days of notice that the locating service wants before anybody digs.

    The longest of the study's states, as the region's table has them; where none of them is known there, the
    rule of practice ``locate_notice``.
    """
    told = knowledge.region.locating_business_days
    mine = [told[state] for state in knowledge.states if state in told]
    every = len(mine) == len(knowledge.states) and mine
    return max(mine if every else [*mine, int(knowledge.practice_value("locate_notice"))])

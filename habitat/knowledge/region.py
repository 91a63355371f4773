"""Where the tables' region lies: a plan for ground outside of it would be made of other country's plants."""

from __future__ import annotations

import geopandas as gpd

from habitat.knowledge.tables import Knowledge

SHIPPED = {"ohio-valley-mid-atlantic": ("the Ohio Valley and the Mid-Atlantic", (-89.5, 36.0, -73.5, 43.0))}
"""Region -> name in words; west, south, east, north [degrees], drawn wide (judgement)."""


def outside_region(knowledge: Knowledge, yards: gpd.GeoDataFrame) -> tuple[str, ...]:
    """Return a warning if the middle of the yards lies outside the shipped tables' region, else nothing.

    The region of a study's own tables is where its yards lie, so nothing is said of it. No place is named:
    the warning goes into results for everybody.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.study import KnowledgeSettings
    >>> from shapely import box
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> yards = gpd.GeoDataFrame(geometry=[box(-82.0, 39.9, -81.9, 40.0)], crs=4326)
    >>> outside_region(knowledge, yards)
    ()
    >>> outside_region(knowledge, yards.translate(96.0).to_frame("geometry"))[0][:21]
    'The yards lie outside'
    """
    found = SHIPPED.get(knowledge.region)
    if found is None or yards.empty:
        return ()
    words, (west, south, east, north) = found
    box = yards.to_crs(4326).total_bounds
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    if west <= x <= east and south <= y <= north:
        return ()
    return (
        f"The yards lie outside {words}, which the plant and butterfly tables are for: plants may be foreign "
        "or invasive here, and butterflies, months and telephone numbers other ones. Do not plant from this "
        "before somebody who knows the place has made own tables (see own_tables and knowledge.region).",
    )

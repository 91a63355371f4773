"""Where the yards lie: in the region of the tables, or outside of it."""

from __future__ import annotations

import geopandas as gpd

from habitat.knowledge.tables import Knowledge


def outside_region(knowledge: Knowledge, yards: gpd.GeoDataFrame) -> tuple[str, ...]:
    """Return a warning if the middle of the yards lies outside the region of the tables, else nothing.

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
    if knowledge.region.outline is None or yards.empty:
        return ()
    west, south, east, north = yards.to_crs(4326).total_bounds
    if knowledge.region.holds((west + east) / 2, (south + north) / 2):
        return ()
    return (
        f"The yards lie outside {knowledge.region.name}, which the plant and butterfly tables are for: "
        "plants may be foreign or invasive here, and butterflies, months and telephone numbers other ones. "
        "Do not plant from this before somebody who knows the place has made own tables (see own_tables and "
        "knowledge.region).",
    )

"""Layers and ground for a public audience: only what lies in yards that may be shown, no text from data."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import rasterio.features
import shapely
from numpy.typing import NDArray

from habitat.layers.types import Layers, VectorLayer
from habitat.report.public.names import Names
from habitat.report.public.remarks import Reducer
from habitat.site.types import Site
from habitat.study.model import Study, parse_study
from habitat.terms import anchor_id, anchor_name

EVERYWHERE = ("water", "streets")
"""Layers of public ground, shown off the yards that are not shown."""

IN_YARDS = ("buildings", "paving", "trees", "fences", "septic", "downspouts", "wires", "buried")
"""Layers of which only the parts inside yards that may be shown are kept."""

JOIN_M = 0.75
"""Yards no farther apart than twice this belong to one block."""

BLUR_M = 3.0
"""Outlines of blocks lie about this far outside their yards, with round corners, so that no free corner of
a yard that is not shown can be read off; what lies between two neighbours who show theirs can be guessed."""

HIDDEN_MIN = 3
"""Fewer yards that are not shown could be told by what is left of a block or a total without the shown ones:
such a block is not drawn, such totals are of the shown alone or withheld."""


def public_study(study: Study) -> Study:
    """Return the study without paths, filters and column names."""
    data = study.model_dump(exclude={"layers", "rasters", "knowledge"})
    data["study"] |= {"contact": "", "after": None}
    data["knowledge"] = {"region": study.knowledge.region}
    data["layers"] = {"yards": {"path": "not told"}}
    data["connectivity"] |= {"crossing_costs": None, "where": {}, "where_least": {}, "where_most": {}}
    data["groups"] = {}
    data["report"] |= {"letter_ask": None, "letter_hand_over": None, "letter_spring": None, "pick_up": []}
    return parse_study(data, Path("study.toml"))


def public_yards(yards: gpd.GeoDataFrame, names: Names) -> gpd.GeoDataFrame:
    """Return the layer of yards: those that may be shown, by number, after the blocks that hold the others.

    What a household said of itself (address, budget, children, pets and so on) is left out.
    """
    shown = renamed(yards, names)
    out = gpd.GeoDataFrame(
        {
            "yard_id": shown["yard_id"],
            "role": shown["role"],
            "publish": True,
            "area_m2": shown["area_m2"],
        },
        geometry=shown.geometry,
        crs=yards.crs,
    )
    blocks = _blocks(yards)
    frame = gpd.GeoDataFrame(pd.concat([blocks, out], ignore_index=True), geometry="geometry", crs=yards.crs)
    for column in ("children", "pets", "sprayed", "deer", "septic"):
        frame[column] = False
    return frame.assign(budget=np.nan, max_height_m=np.nan, address=None, poisonous="")


def _blocks(yards: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the outlines of blocks of adjoining yards in which several do not want to be shown."""
    joined = shapely.get_parts(shapely.union_all(yards.geometry.buffer(JOIN_M, join_style="mitre").array))
    joined = joined[
        np.lexsort((shapely.get_x(shapely.centroid(joined)), -shapely.get_y(shapely.centroid(joined))))
    ]
    home, block = shapely.STRtree(joined).query(
        yards.geometry.representative_point().array, predicate="within"
    )
    held = pd.DataFrame({"block": block, "hidden": ~yards["publish"].fillna(False).to_numpy(bool)[home]})
    counts = held.groupby("block")["hidden"].sum()
    keep = counts.index[counts >= HIDDEN_MIN]
    shapes = [_blurred(joined[i]) for i in keep]
    return gpd.GeoDataFrame(
        {
            "yard_id": [f"block {n}" for n in range(1, len(shapes) + 1)],
            "role": "block",
            "publish": False,
            "area_m2": [s.area for s in shapes],
        },
        geometry=shapes,
        crs=yards.crs,
    )


def _blurred(block: Any) -> Any:
    """Return a block without holes, its outline moved out and rounded."""
    return shapely.simplify(shapely.Polygon(block.exterior).buffer(BLUR_M - JOIN_M), BLUR_M / 6)


def renamed(frame: Any, names: Names, column: str = "yard_id") -> Any:
    """Return the rows of places that are shown, under their new names, in the order of these."""
    if frame is None or column not in frame:
        return frame
    new = frame[column].map(names.new)
    out = frame[new.notna()].assign(**{column: new[new.notna()]})
    return out.sort_values(column, kind="stable").reset_index(drop=True)


def public_layers(layers: Layers, names: Names) -> Layers:
    """Return the layers that maps, sheets and the page draw from, without text from data."""
    yards = layers.yards
    leave = yards["publish"].fillna(False).astype(bool)
    ground = shapely.union_all(yards.geometry[leave].array)
    hidden = shapely.union_all(yards.geometry[~leave].buffer(BLUR_M).array)
    vectors = {"yards": _layer("yards", public_yards(yards, names))}
    for name in (*EVERYWHERE, *IN_YARDS):
        frame = layers.frame(name)
        if frame is not None and "geometry" in frame:
            kept = _plain(frame, ground) if name in IN_YARDS else _common(frame, hidden, ground)
            vectors[name] = _layer(name, kept)
    anchors = layers.frame("anchors")
    if anchors is not None and "name" in anchors:
        told = _plain(anchors, None).assign(
            name=[anchor_name(names.new(anchor_id(str(n))) or "") for n in anchors["name"]]
        )
        vectors["anchors"] = _layer("anchors", told.sort_values("name", kind="stable").reset_index(drop=True))
    return Layers(layers.crs, layers.grid, vectors, {})


def _plain(frame: gpd.GeoDataFrame, ground: Any) -> gpd.GeoDataFrame:
    """Keep numbers, yes and no; clip to the ground that may be shown."""
    numbers = [c for c in frame.columns if pd.api.types.is_numeric_dtype(frame[c])]  # bool counts as numeric
    out = frame[[*numbers, "geometry"]].copy()
    if ground is not None:
        out["geometry"] = out.geometry.intersection(ground)
        out = out[~out.geometry.is_empty]
    if "evergreen" in frame and "evergreen" not in out:
        out["evergreen"] = frame["evergreen"].astype(str).str.lower().isin(["true", "yes", "1"])
    return out.reset_index(drop=True)


def _common(frame: gpd.GeoDataFrame, hidden: Any, shown: Any) -> gpd.GeoDataFrame:
    """Keep of public ground what lies off the yards that are not shown, or in those that are.

    It ends a little before them, as blocks do, so that no edge of theirs is cut out; a line along a street
    would be cut to pieces by that, so lines end at the yards themselves.
    """
    out = _plain(frame, None)
    lines = out.geometry.geom_type.str.endswith("LineString").to_numpy(bool)
    shapes = out.geometry.to_numpy()
    tight = hidden.buffer(-BLUR_M)
    cut = [shapely.difference(s, tight if line else hidden) for s, line in zip(shapes, lines, strict=True)]
    inside = shapely.intersection(shapes, shown)
    out["geometry"] = shapely.union(np.asarray(cut, dtype=object), inside)
    return out[~out.geometry.is_empty].reset_index(drop=True)


def _layer(name: str, frame: gpd.GeoDataFrame) -> VectorLayer:
    empty = gpd.GeoDataFrame({"row": [], "reason": [], "attributes": []}, geometry=[], crs=frame.crs)
    return VectorLayer(name, frame, len(frame), len(frame), 0, empty, None, None)


def public_site(site: Site, shown: gpd.GeoDataFrame, anchors: gpd.GeoDataFrame | None, less: Reducer) -> Site:
    """Return the ground of yards that may be shown, and of anchors; everything else is unknown."""
    shapes = [*shown.geometry, *([] if anchors is None else anchors.geometry)]
    outside, names = _outside(site, shapes), less.names
    return replace(
        site,
        rasters={name: _hidden(values, outside) for name, values in site.rasters.items()},
        sun_by_month={month: _hidden(values, outside) for month, values in site.sun_by_month.items()},
        open_ground=renamed(site.open_ground, names),
        closed_ground=less.table("closed_ground", renamed(site.closed_ground, names)),
        yards=_without_sources(renamed(site.yards, names)),
        height_limits=less.table("height_limits", renamed(site.height_limits, names)),
        host_limits=less.table("host_limits", renamed(site.host_limits, names)),
        tests={factor: _new(yards, names) for factor, yards in site.tests.items()},
        walked={new: known for old, known in site.walked.items() if (new := names.new(old)) is not None},
        unpaved=_new(site.unpaved, names),
        relief=None,
        sun_terms=None,
        sun_known=None,
        notes=(),
    )


def _new(yards: frozenset[str], names: Names) -> frozenset[str]:
    return frozenset(new for old in yards if (new := names.new(old)) is not None)


def _without_sources(frame: Any) -> Any:
    return frame.assign(**{c: "" for c in frame if c.endswith("_source")})


def _outside(site: Site, shapes: list[Any]) -> NDArray[np.bool_]:
    kept = [s for s in shapes if s is not None and not s.is_empty]
    if not kept:
        return np.ones(site.grid.shape, bool)
    return np.asarray(
        rasterio.features.geometry_mask(kept, site.grid.shape, site.grid.transform, all_touched=False), bool
    )


def _hidden(values: NDArray[np.float32], outside: NDArray[np.bool_]) -> NDArray[np.float32]:
    return np.where(outside, np.float32(np.nan), values).astype(np.float32)

"""A plan small enough to read: seven yards on one street between a meadow and a wood.

Everything is invented. Yards lie 39.9 degrees north (EPSG:32617); three north and four south of Heron
Lane, each with a house, a drive and (but for the last, which takes no part) two beds. Figures follow from
the geometry by the design's definitions, so that a headline can be worked out again from the tables.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS
from shapely.geometry import LineString, MultiPoint, MultiPolygon, Point, Polygon
from shapely.ops import unary_union

from habitat.connectivity.measures.absolute import ALL_STATES, together_of
from habitat.grid import Grid
from habitat.ground.setbacks import DEFAULTS
from habitat.knowledge.tables import Knowledge, load_knowledge
from habitat.layers.types import Layers, VectorLayer
from habitat.remarks import Note, remark
from habitat.report.lists.buying import cost_to_buy
from habitat.report.plan import Plan
from habitat.report.public.reduce import public_plan
from habitat.site.types import Site
from habitat.study.model import Study
from habitat.study.reading import read_study

WEST, SOUTH = 436_000.0, 4_417_000.0
CRS_M = CRS.from_epsg(32617)
YARD_IDS = ("0007", "0012", "0013", "0021", "0022", "0030", "0044")
ROLES = ("member", "candidate", "member", "member", "candidate", "member", "other")
PUBLISH = (True, False, True, False, True, True, False)
WISHES = ("Danaus plexippus", "Papilio polyxenes", "Phyciodes tharos", "Papilio troilus")
MEDIAN_M = {
    "Danaus plexippus": 800.0,
    "Papilio polyxenes": 800.0,
    "Phyciodes tharos": 22.0,
    "Papilio troilus": 28.0,
}
HERBS = (
    ("Asclepias incarnata", "host and nectar", "plug", 10),
    ("Zizia aurea", "host and nectar", "plug", 6),
    ("Symphyotrichum novae-angliae", "host and nectar", "plug", 5),
    ("Monarda fistulosa", "nectar", "pot", 3),
    ("Phlox divaricata", "nectar", "plug", 5),
    ("Schizachyrium scoparium", "shelter", "plug", 5),
)
REASONS = {setback.what: setback.reason for setback in DEFAULTS}
PRICES = {"plug": 3.5, "pot": 11.0, "bare root": 6.0, "seed": 2.0}


def small_plan(tmp_path: Path, yard_ids: tuple[str, ...] = YARD_IDS, **sections: dict[str, Any]) -> Plan:
    """Return the plan; a study file is left in ``tmp_path``.

    Parameters
    ----------
    yard_ids
        Seven names for the yards, for names that would like to break something.
    sections
        Keys of the study to change, by section, such as ``report={"units": "us"}``.
    """
    study = _study(tmp_path, sections)
    knowledge = load_knowledge(study.knowledge, study.folder)
    layers = _layers(study, yard_ids)
    site = _site(layers)
    beds = _beds(layers, site)
    plantings, points = _plants(beds, site, knowledge)
    existing = _existing(layers, knowledge)
    butterflies, breeding = _butterflies(layers, knowledge, plantings, points, existing)
    links = _links(butterflies, breeding, layers)
    chain = _chain(links)
    yards = _yard_table(layers, site, plantings, butterflies, knowledge)
    headline = _headline(butterflies, links, yards, beds, plantings, existing)
    invitations, steps = _invitations(yards, headline)
    return Plan(
        study=study,
        layers=layers,
        site=site,
        knowledge=knowledge,
        yards=yards,
        existing_plants=existing,
        beds=beds,
        plantings=plantings,
        plant_points=points,
        yard_butterflies=butterflies,
        links=links,
        chain=chain,
        invitations=invitations,
        set_aside=gpd.GeoDataFrame(
            {"layer": [], "row": [], "reason": [], "attributes": []}, geometry=[], crs=CRS_M
        ),
        open_ground=site.open_ground,
        headline=headline,
        invitation_steps=steps,
        yard_results=_results(yards, plantings),
        breeding=breeding,
        nectar_stops=_stops(layers),
        bed_sites=_sites(beds),
        breaks={w: {"chains_sharing_no_yard": 1, "redundancy": 1.0} for w in WISHES}
        | {"Papilio troilus": _breaks(chain, yards)},
        sentences=(
            "With the members' plans the pearl crescent reaches from the meadow to the wood.",
            remark("share_needs_all_plans", without=1, yards=7),
        ),
        run_info={
            "versions": {"habitat": "0.1.0"},
            "settings": study.model_dump(mode="json"),
            "inputs": {},
            "layers": {},
        },
        notes=("soil pH is unknown in a strip along the east side",),
    )


def _stops(layers: Layers) -> gpd.GeoDataFrame:
    """Return a metre of nectar in the middle of each yard, for two butterflies, in both states."""
    yards = layers.yards
    both = [
        gpd.GeoDataFrame(
            {"yard_id": yards["yard_id"], "state": state, "butterflies": "; ".join(sorted(WISHES)[:2])},
            geometry=yards.geometry.representative_point().buffer(1.0),
            crs=CRS_M,
        )
        for state in ("before", "planned")
    ]
    return gpd.GeoDataFrame(pd.concat(both, ignore_index=True), geometry="geometry", crs=CRS_M)


def _sites(beds: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the places of the beds, as found before any was chosen."""
    columns = ["yard_id", "growth_form", "area_m2", "sun_h_mean", "geometry"]
    return beds[columns].assign(site_id=range(len(beds)), height_max_m=float("nan"))


def agreed(plan, publish):
    """Return the plan reduced for the public, if these households agreed to be shown."""
    layers = plan.layers
    yards = layers.yards.assign(publish=list(publish))
    vectors = {**layers.vectors, "yards": replace(layers.vectors["yards"], frame=yards)}
    return public_plan(replace(plan, layers=replace(layers, vectors=vectors)))


def _breaks(chain: gpd.GeoDataFrame, yards: gpd.GeoDataFrame) -> dict[str, Any]:
    """Return where the chain of the spicebush swallowtail breaks: one way, so all flow takes each step."""
    steps = chain[(chain["butterfly"] == "Papilio troilus") & (chain["state"] == "members")]
    weak = steps[steps["weakest"]].iloc[0]
    west, south, east, north = yards.geometry.iloc[0].bounds
    x, y = (v.ravel() for v in np.meshgrid(np.arange(west, east, 4.0), np.arange(south, north, 4.0)))
    ends = [steps["from_yard"].iloc[0], steps["to_yard"].iloc[-1]]
    links = steps[["from_yard", "to_yard"]].itertuples(index=False)
    pair = {
        "from": ends[0],
        "to": ends[1],
        "passage": float(steps["passage"].prod()),
        "steps": len(steps),
        "chains_sharing_no_yard": 1,
        "redundancy": 1.0,
        "narrow_places": sorted(steps["to_yard"].iloc[:-1]),
        "flow_links": [{"from": a, "to": b, "share": 1.0} for a, b in links],
    }
    return {
        "chains_sharing_no_yard": 1,
        "redundancy": 1.0,
        "pairs": [pair],
        "gap": {"from": weak["from_yard"], "to": weak["to_yard"], "distance_m": float(weak["distance_m"])},
        "one_more_bed": {
            "x": x.tolist(),
            "y": y.tolist(),
            "yard_id": [yards["yard_id"].iloc[0]] * len(x),
            "gain_m2": np.linspace(0.0, 3.4, len(x)).tolist(),
            "bed_m2": 9.0,
        },
    }


def _study(tmp_path: Path, sections: dict[str, dict[str, Any]]) -> Study:
    tmp_path.mkdir(parents=True, exist_ok=True)
    (tmp_path / "yards.geojson").write_text('{"type": "FeatureCollection", "features": []}', encoding="utf-8")
    (tmp_path / "study.toml").write_text(
        '[study]\nname = "Heron Lane"\ndate = 2026-03-01\ncrs = "EPSG:32617"\n'
        '[layers.yards]\npath = "yards.geojson"\n'
        "[planting]\nwishes = [" + ", ".join(f'"{w}"' for w in WISHES) + "]\n",
        encoding="utf-8",
    )
    study = read_study(tmp_path / "study.toml")
    return study.changed(**sections) if sections else study


def _at(x: float, y: float) -> tuple[float, float]:
    """Turn by 8 degrees, so that nothing is parallel to the grid."""
    turn = math.radians(8.0)
    return (
        WEST + 150 + x * math.cos(turn) - y * math.sin(turn),
        SOUTH + 80 + x * math.sin(turn) + y * math.cos(turn),
    )


def _poly(*corners: tuple[float, float]) -> Polygon:
    return Polygon([_at(x, y) for x, y in corners])


def _lot(i: int) -> tuple[float, float, float, int]:
    """Return west, east, depth and side (1 north, -1 south) of a yard before turning."""
    north = i < 3
    width = 26.0 if north else 21.0
    west = (i if north else i - 3) * width - 42.0
    return west, west + width - 1.0, 34.0 + 3.0 * (i % 3), 1 if north else -1


def _layers(study: Study, yard_ids: tuple[str, ...]) -> Layers:
    yards, houses, drives, trees = [], [], [], []
    for i in range(7):
        west, east, depth, s = _lot(i)
        mid = (west + east) / 2
        yards.append(
            _poly((west, 5 * s), (east, 5 * s), (east - 1, (5 + depth) * s), (west + 1.5, (4 + depth) * s))
        )
        houses.append(
            _poly(
                (mid - 6, 12 * s),
                (mid + 5, 12 * s),
                (mid + 5, 18 * s),
                (mid + 1, 18 * s),
                (mid + 1, 22 * s),
                (mid - 6, 22 * s),
            )
        )
        drives.append(_poly((mid + 5.5, 5 * s), (mid + 8.5, 5 * s), (mid + 8.5, 17 * s), (mid + 5.5, 17 * s)))
        trees.append(Point(_at(mid - 7.5, (depth - 1) * s)))
    n = range(7)
    frames = {
        "yards": _frame(
            yards,
            yard_id=list(yard_ids),
            role=list(ROLES),
            publish=list(PUBLISH),
            budget=[200.0, math.nan, 150.0, math.nan, math.nan, 300.0, math.nan],
            children=[True, False, False, False, True, False, False],
            pets=[False, True, False, False, False, False, False],
            sprayed=[False] * 7,
            deer=[False, False, True, True, False, False, False],
            septic=[False] * 7,
            max_height_m=[math.nan] * 7,
            area_m2=[y.area for y in yards],
            address=[f"{2 * i + 3} Heron Lane" for i in n],
        ),
        "buildings": _frame(houses, height_m=[6.0] * 7),
        "paving": _frame(drives),
        "trees": _frame(trees, height_m=[11.0] * 7, crown_m=[6.0] * 7, plant=[None] * 7),
        "streets": _frame([LineString([_at(-60, 0), _at(60, 0)])], name=["Heron Lane"]),
        "anchors": _frame(
            [
                _poly((-130, -30), (-80, -36), (-76, 20), (-100, 36), (-128, 24)),
                _poly((70, -40), (104, -30), (112, 26), (84, 34), (66, 10)),
            ],
            name=["Long Meadow", "Alder Wood"],
            host_share=[0.01, 0.01],
        ),
        "water": _frame([LineString([_at(-140, 42), _at(-40, 60), _at(60, 52), _at(120, 64)]).buffer(2.0)]),
    }
    vectors = {name: _layer(name, frame) for name, frame in frames.items()}
    grid = Grid.from_bounds(unary_union([*yards, *frames["anchors"].geometry]).buffer(15).bounds, 1.0, CRS_M)
    return Layers(CRS_M, grid, vectors, {}, (Note(None, "all layers are invented", 0),))


def _frame(shapes: list[Any], **columns: list[Any]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(columns, geometry=shapes, crs=CRS_M)


def _layer(name: str, frame: gpd.GeoDataFrame) -> VectorLayer:
    aside = gpd.GeoDataFrame({"row": [], "reason": [], "attributes": []}, geometry=[], crs=CRS_M)
    return VectorLayer(name, frame, len(frame), len(frame), 0, aside, "EPSG:32617", "UTF-8")


def _site(layers: Layers) -> Site:
    grid = layers.grid
    x, y = np.meshgrid(grid.x - grid.x[0], grid.y - grid.y[-1])
    shade = np.zeros(grid.shape)
    for tree in layers.vectors["trees"].frame.geometry:
        shade += 6.0 * np.exp(
            -((grid.x[None, :] - tree.x) ** 2 + (grid.y[:, None] - tree.y - 3.0) ** 2) / 60.0
        )
    for house in layers.vectors["buildings"].frame.geometry:
        c = house.centroid
        shade += 5.0 * np.exp(
            -((grid.x[None, :] - c.x) ** 2 / 60.0 + (grid.y[:, None] - c.y - 7.0) ** 2 / 20.0)
        )
    sun = np.clip(11.5 - shade, 0.3, 14.0).astype(np.float32)
    ph = (5.6 + 1.5 * x / x.max() + 0.3 * np.sin(y / 25.0)).astype(np.float32)
    ph[:, -30:] = np.nan
    drainage = np.clip(np.round(3 + 3 * y / y.max()), 1, 7).astype(np.float32)
    texture = np.where(x < 120, 5, np.where(x < 200, 4, 9)).astype(np.float32)
    rasters = {"sun_h": sun, "sun_afternoon_h": sun / 2, "ph": ph, "drainage": drainage, "texture": texture}
    months = {
        m: (sun * f).astype(np.float32)
        for m, f in zip(range(4, 11), (0.88, 0.97, 1.02, 1.0, 0.93, 0.8, 0.68), strict=True)
    }
    open_ground, closed = _ground(layers)
    low = gpd.GeoDataFrame(
        {
            "yard_id": [layers.yards["yard_id"][0]],
            "what": ["drive_mouth"],
            "reason": ["sight triangle at the drive"],
            "height_max_m": [0.76],
            "caution": ["Keep plants at the drive below 0.76 m, or as the local code says"],
        },
        geometry=[_poly((-21, 5), (-17, 5), (-17, 9))],
        crs=CRS_M,
    )
    return Site(
        grid,
        rasters,
        months,
        open_ground,
        closed,
        _site_yards(layers, rasters, open_ground),
        True,
        height_limits=low,
    )


def _ground(layers: Layers) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    rows: list[dict[str, Any]] = []
    shut: list[dict[str, Any]] = []
    for i, yard in layers.yards.iterrows():
        house, drive = (layers.vectors[n].frame.geometry[i] for n in ("buildings", "paving"))
        trunk = layers.vectors["trees"].frame.geometry[i].buffer(0.5)
        for form, gap in (("herb", 0.5), ("shrub", 1.5), ("tree", 6.0)):
            near = house.buffer(gap, join_style="mitre")
            free = yard.geometry.difference(unary_union([near, drive, trunk]))
            rows.append(
                {"yard_id": yard["yard_id"], "growth_form": form, "open_m2": free.area, "geometry": free}
            )
            wall = near.difference(house).intersection(yard.geometry)
            shut.append(_shut(yard, "building", form, gap, "", wall))
        shut += [
            _shut(yard, "building", "all", 0.0, "", house.intersection(yard.geometry)),
            _shut(yard, "paving", "all", 0.0, "", drive.intersection(yard.geometry)),
            _shut(
                yard,
                "trunk",
                "all",
                0.5,
                "Dig by hand among roots",
                trunk.intersection(yard.geometry),
            ),
        ]
    return gpd.GeoDataFrame(rows, crs=CRS_M), gpd.GeoDataFrame(shut, crs=CRS_M)


def _shut(yard: Any, what: str, form: str, setback: float, caution: str, shape: Any) -> dict[str, Any]:
    return {
        "yard_id": yard["yard_id"],
        "what": what,
        "reason": REASONS[what],
        "growth_form": form,
        "setback_m": setback,
        "caution": caution,
        "geometry": shape,
    }


def _site_yards(layers: Layers, rasters: dict[str, Any], open_ground: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    herb = open_ground[open_ground["growth_form"] == "herb"].set_index("yard_id")["open_m2"]
    rows = []
    for yard in layers.yards.itertuples():
        r, c = layers.grid.window(yard.geometry.bounds)
        ph = rasters["ph"][r, c]
        rows.append(
            {
                "yard_id": yard.yard_id,
                "area_m2": yard.geometry.area,
                "open_m2": float(herb[yard.yard_id]),
                "sun_h_mean": float(rasters["sun_h"][r, c].mean()),
                "sun_h_source": "surface heights",
                "ph_mean": float(np.nanmean(ph)) if np.isfinite(ph).any() else math.nan,
                "ph_source": "raster of about 30 m cells",
                "drainage_mode": "moderately well drained",
                "drainage_rank": 4.0,
                "drainage_source": "raster",
                "texture": "silt loam",
                "texture_source": "raster",
                "depth_cm_mean": math.nan,
                "known_share": 0.9,
                "geometry": yard.geometry,
            }
        )
    return gpd.GeoDataFrame(rows, crs=CRS_M)


def _beds(layers: Layers, site: Site) -> gpd.GeoDataFrame:
    """Give every yard that takes part two beds: one across the back, one for a shrub by the side."""
    rows: list[dict[str, Any]] = []
    for i, yard in enumerate(layers.yards.itertuples()):
        if yard.role == "other":
            continue
        west, east, depth, s = _lot(i)
        mid, back = (west + east) / 2, depth + 1.5
        spots = (
            (
                "herb",
                _poly(
                    (mid - 5, (back - 4) * s),
                    (mid + 5, (back - 4.5) * s),
                    (mid + 6, (back - 0.5) * s),
                    (mid - 5, back * s),
                ),
            ),
            ("shrub", Point(_at(west + 5.5, (back - 6) * s)).buffer(1.3)),
        )
        for number, (form, shape) in enumerate(spots, start=1):
            r, c = site.grid.window(shape.bounds)
            rows.append(
                {
                    "bed_id": f"{yard.yard_id}-{number}",
                    "yard_id": yard.yard_id,
                    "bed_number": number,
                    "growth_form": form,
                    "area_m2": shape.area,
                    "edge_m": shape.length,
                    "sun_h_mean": float(site.rasters["sun_h"][r, c].mean()),
                    "geometry": shape,
                }
            )
    return gpd.GeoDataFrame(rows, crs=CRS_M)


def _lattice(shape: Polygon, spacing: float) -> list[Point]:
    west, south, east, north = shape.buffer(-0.25).bounds
    spots = []
    for j, y in enumerate(np.arange(south, north, spacing * math.sqrt(3) / 2)):
        spots += [Point(x, y) for x in np.arange(west + (j % 2) * spacing / 2, east, spacing)]
    return [p for p in spots if shape.buffer(-0.25).contains(p)]


def _plants(
    beds: gpd.GeoDataFrame, site: Site, knowledge: Knowledge
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    plantings: list[dict[str, Any]] = []
    points: list[dict[str, Any]] = []
    for bed in beds.itertuples():
        wanted = HERBS if bed.growth_form == "herb" else (("Lindera benzoin", "host", "bare root", 1),)
        spots = _lattice(bed.geometry, 0.55) if bed.growth_form == "herb" else [bed.geometry.centroid]
        for plant, purpose, form, count in wanted:
            row = knowledge.plants.loc[plant]
            mine, spots = spots[:count], spots[count:]
            key = 1 + sum(p["yard_id"] == bed.yard_id for p in plantings)
            plantings.append(_planting(bed, row, purpose, form, mine, knowledge))
            for number, point in enumerate(mine, start=1):
                points.append(
                    {
                        "point_id": f"{plantings[-1]['planting_id']}-{number}",
                        "planting_id": plantings[-1]["planting_id"],
                        "bed_id": bed.bed_id,
                        "yard_id": bed.yard_id,
                        "plant": plant,
                        "key_number": key,
                        "crown_m": float(row["spread_m"]),
                        "height_m": float(row["height_m"]),
                        "geometry": point,
                    }
                )
    return gpd.GeoDataFrame(plantings, crs=CRS_M), gpd.GeoDataFrame(points, crs=CRS_M)


def _planting(
    bed: Any, row: Any, purpose: str, form: str, spots: list[Point], knowledge: Knowledge
) -> dict[str, Any]:
    name = row["scientific_name"]
    eaters = [b for b in WISHES if b in set(knowledge.eaters_of(name)["butterfly"])]
    return {
        "planting_id": f"{bed.bed_id}-{name}",
        "yard_id": bed.yard_id,
        "bed_id": bed.bed_id,
        "plant": name,
        "common_name": row["common_name"],
        "purpose": purpose,
        "form": form,
        "count": len(spots),
        "spacing_m": float(row["spacing_m"]),
        "height_m": float(row["height_m"]),
        "fit": 0.83,
        "limiting_need": "ph" if "host" in purpose else "",
        "butterflies": "; ".join(eaters),
        "bloom_months": f"{row['bloom_start_month']:.0f}-{row['bloom_end_month']:.0f}",
        "cost": len(spots) * PRICES[form],
        "year": 1,
        "layer": "season",
        "group_size": min(len(spots), 3),
        "why": "feeds caterpillars; fits the sun and the soil here"
        if "host" in purpose
        else "in bloom when adults fly",
        "geometry": MultiPoint(spots),
    }


def _existing(layers: Layers, knowledge: Knowledge) -> gpd.GeoDataFrame:
    ids = layers.yards["yard_id"]
    rows = [
        (0, ids[1], "Asclepias syriaca", "common milkweed", 4.0, (-10.0, 30.0)),
        (1, ids[3], "Lindera benzoin", "spicebush", 1.0, (-38.0, -30.0)),
        (2, ids[5], None, "mystery bush", 1.0, (6.0, -30.0)),
    ]
    out = []
    for row, yard, plant, given, count, spot in rows:
        crown = (
            math.pi / 4 * float(knowledge.plants.loc[plant, "spread_m"]) ** 2 * count if plant else math.nan
        )
        eaters = "; ".join(b for b in knowledge.eaters_of(plant)["butterfly"]) if plant else ""
        out.append(
            {
                "row": row,
                "yard_id": yard,
                "plant": plant,
                "name_given": given,
                "count": count,
                "crown_m2": crown,
                "butterflies": eaters,
                "geometry": Point(_at(*spot)),
            }
        )
    return gpd.GeoDataFrame(out, crs=CRS_M)


def _butterflies(
    layers: Layers,
    knowledge: Knowledge,
    plantings: gpd.GeoDataFrame,
    points: gpd.GeoDataFrame,
    existing: gpd.GeoDataFrame,
) -> tuple[pd.DataFrame, gpd.GeoDataFrame]:
    rows: list[dict[str, Any]] = []
    ground: list[dict[str, Any]] = []
    for butterfly in sorted(WISHES):
        hosts = set(knowledge.hosts_of(butterfly)["plant"])
        common = knowledge.butterflies.loc[butterfly, "common_name"]
        for anchor in layers.vectors["anchors"].frame.itertuples():
            worth = anchor.geometry.area * anchor.host_share
            rows.append(_row(f"anchor: {anchor.name}", "anchor", butterfly, common, worth, worth, ""))
            ground += [
                _ground_row(f"anchor: {anchor.name}", butterfly, s, worth, anchor.geometry)
                for s in ("before", "planned")
            ]
        for yard in layers.yards.itertuples():
            old = existing[(existing["yard_id"] == yard.yard_id) & existing["plant"].isin(hosts)]
            new = points[(points["yard_id"] == yard.yard_id) & points["plant"].isin(hosts)]
            before = min(20.0, float(old["crown_m2"].sum())) * 0.5
            leaf = float(old["crown_m2"].sum() + (math.pi / 4 * new["crown_m"] ** 2).sum())
            after = min(20.0, leaf) * (0.9 if len(new) else 0.5)
            missing = "" if len(new) else "no host plant" if not len(old) else "nectar in April and May"
            rows.append(_row(yard.yard_id, yard.role, butterfly, common, before, after, missing, leaf))
            crowns = [p.buffer(0.5) for p in [*old.geometry]]
            if before > 0:
                ground.append(_ground_row(yard.yard_id, butterfly, "before", before, unary_union(crowns)))
            if after > 0:
                crowns += [p.buffer(c / 2) for p, c in zip(new.geometry, new["crown_m"], strict=True)]
                ground.append(_ground_row(yard.yard_id, butterfly, "planned", after, unary_union(crowns)))
    return pd.DataFrame(rows), gpd.GeoDataFrame(ground, crs=CRS_M)


def _ground_row(yard_id: str, butterfly: str, state: str, worth: float, shape: Any) -> dict[str, Any]:
    return {
        "yard_id": yard_id,
        "butterfly": butterfly,
        "state": state,
        "habitat_m2": worth,
        "geometry": shape if shape.geom_type != "GeometryCollection" else MultiPolygon(),
    }


def _row(
    yard_id: str,
    role: str,
    butterfly: str,
    common: str,
    before: float,
    after: float,
    missing: str,
    leaf: float = 0.0,
) -> dict[str, Any]:
    return {
        "yard_id": yard_id,
        "role": role,
        "butterfly": butterfly,
        "common_name": common,
        "leaf_m2": leaf,
        "nectar": 0.9 if not missing else 0.5,
        "winter": 1,
        "habitat_before_m2": before,
        "habitat_m2": after,
        "missing": missing,
        "closes_in_year": math.nan if missing else 0 if role == "anchor" else 2,
        "verdict": "will visit" if missing else "can breed",
        "broods": math.nan if role == "anchor" else 0 if missing else 2,
        "carried_by": "" if missing or role == "anchor" else "swamp milkweed in May to September",
        "doubtful_hosts": "",
        "held_m2": after * 0.2,
        "arriving_m2": after * 0.5,
        "passing_m2": after * 0.3,
    }


def _areas(frame: pd.DataFrame, state: str) -> dict[str, float]:
    planned = {
        "today": ["anchor"],
        "members": ["member", "anchor"],
        "everyone": ["member", "candidate", "anchor"],
    }[state]
    worth = np.where(frame["role"].isin(planned), frame["habitat_m2"], frame["habitat_before_m2"])
    return dict(zip(frame["yard_id"], worth.astype(float), strict=True))


def _links(butterflies: pd.DataFrame, breeding: gpd.GeoDataFrame, layers: Layers) -> gpd.GeoDataFrame:
    spots = layers.yards.set_index("yard_id").geometry.representative_point().to_dict()
    spots |= {
        f"anchor: {a.name}": a.geometry.representative_point()
        for a in layers.vectors["anchors"].frame.itertuples()
    }
    rows = []
    for butterfly in sorted(WISHES):
        frame = butterflies[butterflies["butterfly"] == butterfly]
        k = math.log(2) / MEDIAN_M[butterfly]
        for state in ("today", "members", "everyone"):
            live = sorted(y for y, a in _areas(frame, state).items() if a > 0)
            for a, b in itertools.combinations(live, 2):
                d = _shape(breeding, a, butterfly).distance(_shape(breeding, b, butterfly))
                if d <= 4.32 * MEDIAN_M[butterfly]:
                    rows.append(
                        {
                            "from_yard": a,
                            "to_yard": b,
                            "butterfly": butterfly,
                            "distance_m": d,
                            "passage": math.exp(-k * d),
                            "state": state,
                            "geometry": LineString([spots[a], spots[b]]),
                        }
                    )
    return gpd.GeoDataFrame(rows, crs=CRS_M)


def _shape(breeding: gpd.GeoDataFrame, yard_id: str, butterfly: str) -> Any:
    mine = breeding[(breeding["yard_id"] == yard_id) & (breeding["butterfly"] == butterfly)]
    return mine.geometry.iloc[-1]


def _chain(links: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Take the likeliest way from the meadow to the wood for the two that do not fly far."""
    rows: list[dict[str, Any]] = []
    for butterfly, state in itertools.product(
        ("Papilio troilus", "Phyciodes tharos"), ("members", "everyone")
    ):
        mine = links[(links["butterfly"] == butterfly) & (links["state"] == state)]
        edges = {frozenset((e.from_yard, e.to_yard)): e for e in mine.itertuples()}
        best = _best_path(edges, "anchor: Long Meadow", "anchor: Alder Wood")
        steps = [edges[frozenset(pair)] for pair in itertools.pairwise(best)]
        weakest = min((e.passage for e in steps), default=0.0)
        for number, (pair, e) in enumerate(zip(itertools.pairwise(best), steps, strict=True), start=1):
            rows.append(
                {
                    "butterfly": butterfly,
                    "state": state,
                    "step": number,
                    "from_yard": pair[0],
                    "to_yard": pair[1],
                    "distance_m": e.distance_m,
                    "passage": e.passage,
                    "weakest": e.passage == weakest,
                    "geometry": e.geometry,
                }
            )
    return gpd.GeoDataFrame(rows, crs=CRS_M)


def _best_products(edges: dict[frozenset[str], Any], start: str) -> dict[str, tuple[float, list[str]]]:
    best, todo = {start: (1.0, [start])}, [start]
    while todo:
        here = todo.pop(0)
        for pair, e in edges.items():
            if here in pair:
                (other,) = pair - {here}
                reach = best[here][0] * e.passage
                if reach > best.get(other, (0.0, []))[0] + 1e-15:
                    best[other] = (reach, [*best[here][1], other])
                    todo.append(other)
    return best


def _best_path(edges: dict[frozenset[str], Any], start: str, end: str) -> list[str]:
    return _best_products(edges, start).get(end, (0.0, []))[1]


def _headline(
    butterflies: pd.DataFrame,
    links: gpd.GeoDataFrame,
    yards: gpd.GeoDataFrame,
    beds: gpd.GeoDataFrame,
    plantings: gpd.GeoDataFrame,
    existing: gpd.GeoDataFrame,
) -> dict[str, Any]:
    entries: dict[str, Any] = {}
    for butterfly in sorted(WISHES):
        frame = butterflies[butterflies["butterfly"] == butterfly]
        entry: dict[str, Any] = {}
        for state in ("everyone", "members", "today"):
            mine = links[(links["butterfly"] == butterfly) & (links["state"] == state)]
            edges = {frozenset((e.from_yard, e.to_yard)): e for e in mine.itertuples()}
            area, worth = _areas(frame, state), 0.0
            for start in sorted(y for y, a in area.items() if a > 0):
                worth += sum(
                    area[start] * area[end] * p for end, (p, _) in _best_products(edges, start).items()
                )
            entry[state] = {"habitat_m2": sum(area.values()), "equivalent_area_m2": math.sqrt(worth)}
            entry[state] |= {"broods": len(area), "groups": 1, "colonisations": 0.5, "capacity_m2": 2.0}
            entry[state]["score"] = (
                entry[state]["equivalent_area_m2"] / entry["everyone"]["equivalent_area_m2"]
            )
        entry["invited"] = dict(entry["everyone"])
        entries[butterfly] = {**entry, "low_reach": entry.copy(), "high_reach": entry.copy()}
    joint = {
        s: float(np.mean([e[s]["score"] for e in entries.values()])) for s in ("today", "members", "everyone")
    }
    joined = plantings["yard_id"].isin(yards.loc[yards["role"] == "member", "yard_id"])
    counts = {
        "yards": len(yards),
        "members": int((yards["role"] == "member").sum()),
        "candidates": int((yards["role"] == "candidate").sum()),
        "yards_planned": 6,
        "yards_with_plants": int(plantings["yard_id"].nunique()),
        "beds": len(beds),
        "plants": int(plantings["count"].sum()),
        "plants_of_members": int(plantings.loc[joined, "count"].sum()),
        "plant_kinds": int(plantings["plant"].nunique()),
        "existing_plants": float(existing["count"].sum()),
    }
    return {
        "butterflies": entries,
        "together": together_of(entries, ALL_STATES),
        "share": {"given": False, "without_plan": 1, "yards": 7},
        "joint_score": joint,
        "counts": counts,
        "cost": float(plantings["cost"].sum()),
        "cost_of_members": float(plantings.loc[joined, "cost"].sum()),
        "cost_to_buy": cost_to_buy(plantings, set(plantings.loc[joined, "yard_id"])),
        "rounds": [],
    }


def _yard_table(
    layers: Layers, site: Site, plantings: gpd.GeoDataFrame, butterflies: pd.DataFrame, knowledge: Knowledge
) -> gpd.GeoDataFrame:
    table = layers.yards[["yard_id", "role", "publish", "area_m2"]].merge(
        site.yards.drop(columns=["area_m2"]), on="yard_id"
    )
    closed = butterflies[butterflies["missing"] == ""].groupby("yard_id").size()
    hosts = plantings[plantings["purpose"].str.contains("host")].groupby("yard_id")["plant"].nunique()
    table["hosts"] = table["yard_id"].map(hosts).fillna(0).astype(int)
    table["nectar_months"] = [6 if y in set(plantings["yard_id"]) else 0 for y in table["yard_id"]]
    table["life_cycles_closed"] = table["yard_id"].map(closed).fillna(0).astype(int)
    table["cost"] = table["yard_id"].map(plantings.groupby("yard_id")["cost"].sum()).fillna(0.0)
    return gpd.GeoDataFrame(table, geometry="geometry", crs=CRS_M)


def _invitations(yards: gpd.GeoDataFrame, headline: dict[str, Any]) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    asked = yards[yards["role"] == "candidate"].reset_index(drop=True)
    table = gpd.GeoDataFrame(
        {
            "rank": [1, 2],
            "yard_id": asked["yard_id"],
            "gain_pct": [6.5, 2.1],
            "gain_m2": [41.0, 13.0],
            "gain_broods": [3, 1],
            "cost": asked["cost"],
            "plants": 40,
            "reason": [
                "This yard closes the gap between the meadow and the wood for the pearl crescent",
                "This yard adds ground for the spicebush swallowtail",
            ],
            "rank_low_reach": [1, 2],
            "rank_high_reach": [2, 1],
        },
        geometry=asked.geometry,
        crs=CRS_M,
    )
    low = headline["joint_score"]["members"]
    steps = pd.DataFrame(
        {"invited": [0, 1, 2], "yard_id": ["", *asked["yard_id"]], "joint_score": [low, (low + 1) / 2, 1.0]}
    )
    area = 0.0
    for butterfly, entry in headline["butterflies"].items():
        score = entry["members"]["score"]
        steps[butterfly] = [score, (score + 1) / 2, 1.0]
        area += steps[butterfly] * entry["everyone"]["equivalent_area_m2"]
    steps["connected_m2"] = area
    return table, steps


def _results(yards: gpd.GeoDataFrame, plantings: gpd.GeoDataFrame) -> pd.DataFrame:
    cost = plantings.groupby("yard_id")["cost"].sum()
    ids = yards.loc[yards["role"] != "other", "yard_id"]
    return pd.DataFrame(
        {
            "yard_id": ids,
            "worth": 40.0,
            "bound": 41.5,
            "gap": 0.0375,
            "cost": ids.map(cost).fillna(0.0),
            "habitat_program_m2": 38.0,
            "relaxed": [
                "no nectar in October: nothing in the table blooms then at 3 h of sun",
                *[""] * (len(ids) - 1),
            ],
        }
    ).reset_index(drop=True)

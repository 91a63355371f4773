"""Yards as the page shows them: facts in words, plants, life cycles, and a plan to draw."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from habitat.factors import FACTORS
from habitat.planting.choice.reasons import grade_of
from habitat.report.package.geopackage import records
from habitat.report.page.paths import PER_M, Sheet
from habitat.report.plan import Plan
from habitat.report.words.en import voice
from habitat.report.words.months import month_set, month_words
from habitat.report.words.names import ROLE_WORDS
from habitat.report.words.numbers import UNKNOWN, number
from habitat.report.words.say import Say
from habitat.report.words.text import file_names, listed, plain
from habitat.site.yards import NOT_ASSESSED
from habitat.terms import PLANNED

POINTS_MAX = 500_000
"""With more plants than this, single plants are left to the sheets, so that the page stays small."""


@dataclass(frozen=True, slots=True)
class Yards:
    """The plan's tables by yard, looked up once: pandas is slow where single rows are taken.

    ``points`` holds the plants of each kind; ``keys`` and ``numbers`` are the numbers of plantings and beds
    on the sheet. ``words`` numbers the texts of all yards, each of which is written once.
    """

    plan: Plan
    butterflies: list[str]
    sheet: Sheet
    say: Say
    plantings: dict[str, list[dict[str, Any]]]
    points: dict[str, list[list[int]]]
    beds: dict[str, list[list[Any]]]
    keys: dict[str, int]
    numbers: dict[str, int]
    worth: dict[tuple[str, str], dict[str, Any]]
    ground: dict[str, dict[str, list[Any]]]
    ranks: dict[str, int]
    files: dict[str, str]
    commons: dict[str, str]
    words: dict[str, int]
    outlines: frozenset[str]

    @classmethod
    def of(cls, plan: Plan, butterflies: list[str], sheet: Sheet) -> Yards:
        """Look the tables up by yard."""
        plantings = _grouped(records(plan.plantings))
        worth = records(plan.yard_butterflies)
        invited = zip(plan.invitations.get("yard_id", ()), plan.invitations.get("rank", ()), strict=True)
        beds, points = plan.beds, plan.plant_points
        return cls(
            plan,
            butterflies,
            sheet,
            voice(plan.study.report),
            plantings,
            points_of(points, sheet),
            beds_of(beds, sheet),
            {}
            if points.empty
            else dict(zip(points["planting_id"], points["key_number"].astype(int), strict=True)),
            {} if beds.empty else dict(zip(beds["bed_id"], beds["bed_number"].astype(int), strict=True)),
            {(row["yard_id"], row["butterfly"]): row for row in worth},
            {name: pieces_of(plan, name) for name in ("buildings", "paving")},
            {yard: int(rank) for yard, rank in invited},
            file_names(_planned(plan, plantings), "yard-", ".pdf"),
            {str(k): str(v) for k, v in plan.knowledge.butterflies["common_name"].items()},
            {},
            outlines(plan),
        )

    def said(self, text: str) -> int:
        """Return the number of a text."""
        return self.words.setdefault(text, len(self.words))


def _planned(plan: Plan, plantings: dict[str, Any]) -> list[str]:
    """Return the yards that have a sheet, in the order of the table."""
    tried = set(plan.yard_results.get("yard_id", ()))
    return [y for y in plan.yards["yard_id"] if y in plantings or y in tried]


def _grouped(rows: list[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    out: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        out.setdefault(row["yard_id"], []).append(row)
    return out


def points_of(points: gpd.GeoDataFrame, sheet: Sheet) -> dict[str, list[list[int]]]:
    """Return [number, radius, x, y, step x, step y, ...] for each kind of each yard, the widest first [dm].

    Plants stand a step from the one before, which takes a third of the letters that places would.
    """
    if not 0 < len(points) <= POINTS_MAX:
        return {}
    xy = sheet.cells(shapely.get_coordinates(points.geometry.array))
    radius = np.rint(points["crown_m"].fillna(0.3).to_numpy(float) / 2 * PER_M).astype(np.int64)
    cells = np.column_stack([points["key_number"].to_numpy(np.int64), radius, xy]).tolist()
    runs: dict[str, dict[tuple[int, int], list[int]]] = {}
    for yard, (key, r, x, y) in zip(points["yard_id"], cells, strict=True):
        runs.setdefault(yard, {}).setdefault((key, r), []).extend((x, y))
    return {
        yard: [[*kind, *steps_of(mine[kind])] for kind in sorted(mine, key=lambda k: (-k[1], k[0]))]
        for yard, mine in runs.items()
    }


def steps_of(places: list[int]) -> list[int]:
    """Return places x, y, x, y, ... as the first and the steps from each to the next.

    Examples
    --------
    >>> steps_of([10, 20, 13, 20, 13, 25])
    [10, 20, 3, 0, 0, 5]
    """
    return [v - (places[k - 2] if k > 1 else 0) for k, v in enumerate(places)]


def beds_of(beds: gpd.GeoDataFrame, sheet: Sheet) -> dict[str, list[list[Any]]]:
    """Return [number, path, x, y] of the beds of each yard."""
    out: dict[str, list[list[Any]]] = {}
    if len(beds):
        for yard, number, shape in zip(
            beds["yard_id"], beds["bed_number"].astype(int), beds.geometry, strict=True
        ):
            out.setdefault(yard, []).append(
                [number, sheet.path(shape, tolerance_m=0.05), *sheet.point(shape)]
            )
    return out


def pieces_of(plan: Plan, layer: str) -> dict[str, list[Any]]:
    """Return the parts of a layer's polygons inside each yard."""
    frame, yards = plan.layers.frame(layer), plan.yards
    if frame is None or frame.empty:
        return {}
    shapes = np.asarray(frame.geometry.array, dtype=object)
    pairs = shapely.STRtree(shapes).query(
        np.asarray(yards.geometry.array, dtype=object), predicate="intersects"
    )
    cut = shapely.intersection(yards.geometry.to_numpy()[pairs[0]], shapes[pairs[1]])
    out: dict[str, list[Any]] = {}
    for yard, shape in zip(yards["yard_id"].to_numpy()[pairs[0]], cut, strict=True):
        if shapely.area(shape) > 0.05:
            out.setdefault(yard, []).append(shape)
    return out


OUTLINES_FROM = 2000
"""From so many yards on those that take no part are outlines; plan.gpkg has their facts (judgement)."""


def outlines(plan: Plan) -> frozenset[str]:
    """Return the yards of a large town that the page shows as outlines: no part, no plan, not to ask."""
    if len(plan.yards) < OUTLINES_FROM:
        return frozenset()
    told = set(plan.plantings.get("yard_id", ())) | set(plan.yard_results.get("yard_id", ()))
    told |= set(plan.invitations.get("yard_id", ()))
    apart = plan.yards["yard_id"][~plan.yards["role"].isin(PLANNED)]
    return frozenset(apart) - told


def yard_entries(yards: Yards) -> list[dict[str, Any]]:
    """Return an entry per yard, in the order of ``plan.yards``; of an outline id, role, place and address."""
    addresses = _addresses(yards.plan)
    return [
        _entry(yards, row, addresses.get(row["yard_id"]))
        for row in yards.plan.yards.to_dict(orient="records")
    ]


def _addresses(plan: Plan) -> dict[str, str]:
    frame = plan.layers.yards
    if "address" not in frame:
        return {}
    known = frame[frame["address"].notna()]
    return dict(zip(known["yard_id"], known["address"].astype(str), strict=True))


def _entry(yards: Yards, row: dict[str, Any], address: str | None) -> dict[str, Any]:
    name, sheet = row["yard_id"], yards.sheet
    plantings = yards.plantings.get(name)
    entry: dict[str, Any] = {"id": plain(name, 300), "role": row["role"], "at": sheet.point(row["geometry"])}
    if address:
        entry["address"] = plain(address, 200)
    if name in yards.outlines:
        return entry | {"outline": True}
    entry |= {
        "facts": _facts(yards, row, address),
        "cost": _figure(row.get("cost"), 2),
        "hosts": _figure(row.get("hosts"), 0),
        "nectar": _figure(row.get("nectar_months"), 0),
        "closed": _figure(row.get("life_cycles_closed"), 0),
        "habitat": [_worth(yards, yards.worth.get((name, b))) for b in yards.butterflies],
    }
    if name in yards.ranks:
        entry["rank"] = yards.ranks[name]
    entry |= _drawing(yards, name)
    if plantings is not None:
        entry["plants"] = _plants(yards, plantings)
    if name in yards.files:
        entry["sheet"] = f"sheets/{yards.files[name]}"
    return entry


def _figure(value: Any, digits: int) -> float | None:
    return None if value is None or pd.isna(value) else round(float(value), digits)


FACTS = (
    "address",
    "takes part",
    "area",
    "open ground",
    "direct sun per clear day",
    "soil reaction (pH)",
    "drainage",
    "soil texture",
    "known of this place",
)
"""What the page tells of each yard's place, in this order."""


def _facts(yards: Yards, row: dict[str, Any], address: str | None) -> list[str]:
    """Return what the place offers, in words and in the order of FACTS; unknown says so, "" is not told."""
    known = row.get("known_share")
    return [
        plain(address, 200) if address else "",
        ROLE_WORDS.get(row["role"], plain(row["role"])),
        yards.say.units.area(_value(row, "area_m2")),
        yards.say.units.area(_value(row, "open_m2")),
        _told(row, "sun_h", number(_value(row, "sun_h_mean"), 1, "h")),
        _told(row, "ph", number(_value(row, "ph_mean"), 1)),
        _told(row, "drainage", plain(row.get("drainage_mode")) or UNKNOWN),
        _told(row, "texture", plain(row.get("texture")) or UNKNOWN),
        UNKNOWN if known is None or pd.isna(known) else f"{100 * known:.0f} %",
    ]


def _told(row: dict[str, Any], factor: str, words: str) -> str:
    """Return what is known of a factor in words; *not assessed* is not *unknown*."""
    never = words == UNKNOWN and row.get(f"{factor}_source") == NOT_ASSESSED
    return NOT_ASSESSED if never else words


def _value(row: dict[str, Any], key: str) -> float:
    value = row.get(key)
    return math.nan if value is None or pd.isna(value) else float(value)


def _worth(yards: Yards, row: dict[str, Any] | None) -> list[Any] | int:
    """Return [today, with the plan, what is missing, held, arriving, passing, verdict], or 0 for nothing.

    What is missing is the number of its text, or 0 if nothing is; the verdict is the number of its words.
    """
    if row is None:
        return 0
    figures = [_figure(row.get(k), 2) or 0 for k in ("habitat_before_m2", "habitat_m2")]
    parts = [_figure(row.get(k), 2) or 0 for k in ("held_m2", "arriving_m2", "passing_m2")]
    missing = plain(yards.say(row.get("missing")), 200)
    return [*figures, yards.said(missing) if missing else 0, *parts, yards.said(verdict_words(row))]


def verdict_words(row: dict[str, Any]) -> str:
    """Return what a yard is to a butterfly, with how many broods it can feed and from which year on."""
    words = plain(row.get("verdict"))
    broods, year = _figure(row.get("broods"), 0), _figure(row.get("closes_in_year"), 0)
    if broods:
        words += f": food for {int(broods)} brood{'s' * (broods > 1)} a year"
    return words + (f" from year {int(year)} on" if year and year > 1 else "")


def _plants(yards: Yards, plantings: list[dict[str, Any]]) -> list[list[Any]]:
    """Return [key, common name, scientific name, count, details, why] per plant and form, texts by number."""
    groups: dict[tuple[Any, str, str], list[dict[str, Any]]] = {}
    for row in plantings:
        key = (yards.keys.get(row["planting_id"]), row["plant"], plain(row["form"]))
        groups.setdefault(key, []).append(row)
    return [
        [
            key,
            yards.said(plain(same[0]["common_name"])),
            yards.said(plant),
            sum(int(row["count"]) for row in same),
            yards.said("; ".join(_details(yards, same))),
            yards.said(plain(yards.say(same[0]["why"]), 300)),
        ]
        for (key, plant, _), same in sorted(
            groups.items(), key=lambda g: (g[0][0] is None, g[0][0] or 0, g[0][1])
        )
    ]


def _details(yards: Yards, same: list[dict[str, Any]]) -> list[str]:
    """Say how plants of one kind are planted: beds, form, spacing, height, bloom, for whom, fit."""
    row, units = same[0], yards.say.units
    beds = sorted({yards.numbers[r["bed_id"]] for r in same if r["bed_id"] in yards.numbers})
    limits = yards.plan.study.suitability.class_limits
    fits = sorted((_value(r, "fit") for r in same if not math.isnan(_value(r, "fit"))), reverse=True)
    grades = list(dict.fromkeys(grade_of(fit, limits) for fit in fits))
    short = [r for r in same if _value(r, "fit") < limits[0] and r["limiting_need"] in FACTORS]
    needs = sorted({FACTORS[r["limiting_need"]].heading for r in short})
    fit = f"{listed(grades, 'to')} here" if grades else ""
    return [
        words
        for words in (
            f"{'bed' if len(beds) == 1 else 'beds'} {listed([str(b) for b in beds])}" if beds else "",
            f"{plain(row['form'])}, {units.size(_value(row, 'spacing_m'))} apart",
            f"{units.size(_value(row, 'height_m'))} tall",
            f"blooms {month_words(month_set(str(row['bloom_months'])), short=True)}"
            if row["bloom_months"]
            else "",
            f"for {_commons(yards, row['butterflies'])}" if row["butterflies"] else "",
            fit + (f"; what limits it most: {listed(needs)}" if needs and fit else ""),
        )
        if words
    ]


def _commons(yards: Yards, names: str) -> str:
    return ", ".join(yards.commons.get(n.strip(), n.strip()) for n in str(names).split(";") if n.strip())


def _drawing(yards: Yards, name: str) -> dict[str, Any]:
    """Return what the plan of a yard shows, without what is empty."""
    out: dict[str, Any] = {
        "house": yards.sheet.paths(yards.ground["buildings"].get(name, []), tolerance_m=0.05),
        "paved": yards.sheet.paths(yards.ground["paving"].get(name, []), tolerance_m=0.05),
        "beds": yards.beds.get(name),
        "points": yards.points.get(name),
    }
    return {key: value for key, value in out.items() if value}

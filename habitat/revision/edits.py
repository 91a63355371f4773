"""What people changed by hand in beds, plantings and places of plants, read back as a plan."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import pandas as pd
from shapely.geometry import MultiPoint, Point
from shapely.geometry.base import BaseGeometry

from habitat.planting.settled import BY_HAND, fingerprints
from habitat.planting.types import Drawn
from habitat.remarks import Remark, Subject, remark
from habitat.revision.listed import count_of, text_of, wanted_of
from habitat.revision.places import clean, places

Row = dict[str, Any]

WHY = "Put here by hand."
CHANGED = "; changed by hand"


@dataclass(slots=True)
class Edits:
    """Edited tables on their way to a plan.

    was : ``fingerprints`` of what the run wrote. plant : scientific name by any writing of it, None if
    unknown. facts : what a row of ``plantings`` says of a plant, given its name, form ("" if not told) and
    count. yard_at : the yard at a place, None outside of all. moved : by bed that was moved as it is, how far
    (x, y) [m]. added : plantings that lost a point to another, or got one. living : beds in which plants of
    earlier years live, which stay without plantings too.
    """

    was: Mapping[str, str]
    plant: Callable[[str], str | None]
    facts: Callable[[str, str, int], Row]
    yard_at: Callable[[BaseGeometry], str | None]
    living: frozenset[str] = frozenset()
    beds: dict[str, Row] = field(default_factory=dict)
    plantings: dict[str, Row] = field(default_factory=dict)
    points: dict[str, list[Row]] = field(default_factory=dict)
    moved: dict[str, tuple[float, float]] = field(default_factory=dict)
    added: set[str] = field(default_factory=set)
    notes: list[Remark] = field(default_factory=list)

    def read(self, drawn: Drawn, listed: pd.DataFrame | None, file: str) -> Drawn:
        """Return edited tables as a plan: every row known, counts and places agreeing, changes marked.

        Parameters
        ----------
        drawn
            The tables as they are now; rows without a yard are those that somebody added.
        listed
            The edited list of plantings, as ``read_list`` returns it; None if nobody edited it.
        file
            Its name.
        """
        now = fingerprints(drawn)
        wanted: dict[str, Row] = {}
        if listed is not None:
            wanted, told = wanted_of(listed, file, self.was)
            self.notes += told
        self._read_beds(drawn.beds, now)
        self._read_plantings(drawn.plantings, wanted)
        self._read_points(drawn.points)
        for key in list(self.plantings):
            self._settle(key, now)
        self._strike(drawn)
        rows = list(self.plantings.values())
        return Drawn(
            _frame(list(self.beds.values()), drawn.beds),
            _frame(rows, drawn.plantings),
            _frame([p for row in rows for p in self.points.get(row["planting_id"], [])], drawn.points),
        )

    def _read_beds(self, beds: gpd.GeoDataFrame, now: Mapping[str, str]) -> None:
        named = {text_of(b) for b in beds["bed_id"]}
        for row in _rows(beds):
            drawn = row["geometry"]
            shape = Point() if drawn is None else clean(drawn)
            bed_id = text_of(row["bed_id"])
            if shape.is_empty:
                continue
            yard = text_of(row["yard_id"]) or self.yard_at(shape)
            if yard is None:
                self.notes.append(remark("hand_bed_nowhere", Subject(), area_m2=float(shape.area)))
                continue
            fresh = not bed_id or bed_id in self.beds
            if fresh:
                bed_id = _free(f"{yard}-b", {*self.beds, *named})
            was, is_now = self.was.get(f"bed {bed_id}", ""), now.get(f"bed {bed_id}", "")
            changed = fresh or was.split("|")[0] != is_now.split("|")[0]
            row |= {"bed_id": bed_id, "yard_id": yard}
            row |= {"geometry": shape if changed else drawn, BY_HAND: changed or _yes(row.get(BY_HAND))}
            if changed:
                row |= {"area_m2": float(shape.area), "edge_m": float(shape.length)}
                self._follow(bed_id, was, shape)
            if pd.isna(row["bed_number"]) or fresh:
                mine = [int(b["bed_number"]) for b in self.beds.values() if b["yard_id"] == yard]
                row["bed_number"] = max(mine, default=0) + 1
            row["growth_form"] = text_of(row["growth_form"]) or "herb"
            self.beds[bed_id] = row

    def _follow(self, bed_id: str, was: str, shape: BaseGeometry) -> None:
        """Note how far a bed was moved, if it was moved and not reshaped."""
        if was.count("|") != 3:
            return
        x, y, area = (float(part) for part in was.split("|")[1:])
        if abs(shape.area - area) <= 1e-3 * area + 1e-3:
            self.moved[bed_id] = (shape.centroid.x - x, shape.centroid.y - y)

    def _read_plantings(self, plantings: gpd.GeoDataFrame, wanted: Mapping[str, Row]) -> None:
        named = {text_of(p) for p in plantings["planting_id"]}
        for row in _rows(plantings):
            key, bed = text_of(row["planting_id"]), self.beds.get(text_of(row["bed_id"]))
            if bed is None:
                continue  # its bed was struck, and it with it: told at the end
            if not key or key in self.plantings:
                key = _free(f"{bed['yard_id']}-p", {*self.plantings, *named}, 2)
            row |= {"planting_id": key, "yard_id": bed["yard_id"], "bed_id": bed["bed_id"]}
            new = wanted.get(key, {})
            plant, form = new.get("plant") or text_of(row["plant"]), new.get("form") or text_of(row["form"])
            count = new["count"] if new else count_of(row["count"])
            self._replant(row, plant, form, count)

    def _replant(self, row: Row, plant: str, form: str, count: int | None) -> None:
        """Put what is to grow into a row, and add it unless nothing is left of it."""
        key, yard = row["planting_id"], row["yard_id"]
        had = self.was.get(f"planting {key}", "||0").split("|")
        known = self.plant(plant)
        if known is None:
            self.notes.append(
                remark("hand_plant_unknown", _about(yard), name=plant, planting=key, stays=had[0])
            )
            known, form = had[0], had[1]
        if count is None:
            self.notes.append(remark("hand_count_unknown", _about(yard), planting=key, stays=int(had[2])))
            count = int(had[2])
        if count <= 0 or not known:
            return
        changed = [known, form, str(count)] != had
        row[BY_HAND] = changed or _yes(row.get(BY_HAND))
        if known != had[0] or form != had[1]:
            row |= self.facts(known, form, count) | {"why": WHY}
        elif changed:
            row["cost"] = float(row["cost"]) / max(int(had[2]), 1) * count
        self.plantings[key] = row | {"plant": known, "count": count}

    def _read_points(self, points: gpd.GeoDataFrame) -> None:
        """Read places of plants; those of no planting, or of another plant than theirs, make one."""
        gone = {k.removeprefix("planting ") for k in self.was if k.startswith("planting ")} - {
            *self.plantings
        }
        for point in _rows(points):
            spot, key = point["geometry"], text_of(point["planting_id"])
            if spot is None or spot.is_empty or key in gone:
                continue
            if key not in self.plantings or self._swapped(key, text_of(point["plant"])):
                found = self._planting_of(point, spot)
                if found is None:
                    continue
                self.added |= {key, found}
                key = found
            had = self.was.get(f"planting {key}", "").split("|")[0]
            if self.plant(text_of(point["plant"])) != had:
                point["key_number"] = None  # the number of another plant
            self.points.setdefault(key, []).append(point)

    def _swapped(self, key: str, plant: str) -> bool:
        """Return whether somebody gave a single place another plant than its planting has or had."""
        known, before = self.plant(plant), self.was.get(f"planting {key}", "").split("|")[0]
        return known is not None and known not in (before, self.plantings[key]["plant"])

    def _planting_of(self, point: Row, spot: Point) -> str | None:
        """Return the planting that a new point belongs to, made if there is none; None if nobody can tell."""
        name = text_of(point["plant"])
        plant, yard = self.plant(name), text_of(point["yard_id"]) or self.yard_at(spot) or ""
        bed = next((b for b in self.beds.values() if b["geometry"].intersects(spot)), None)
        bed = self.beds.get(text_of(point["bed_id"])) if bed is None else bed
        if plant is None or bed is None:
            self.notes.append(remark("hand_point_left_out", _about(yard), name=name, known=plant is not None))
            return None
        for key, row in self.plantings.items():
            if row["bed_id"] == bed["bed_id"] and row["plant"] == plant:
                return key
        taken = {*self.plantings, *(k.removeprefix("planting ") for k in self.was)}
        key = _free(f"{bed['yard_id']}-p", taken, 2)
        row = {"planting_id": key, "yard_id": bed["yard_id"], "bed_id": bed["bed_id"], "year": 1}
        row |= self.facts(plant, "", 1) | {"plant": plant, "count": 0, "why": WHY, BY_HAND: True}
        self.plantings[key] = row
        return key

    def _settle(self, key: str, now: Mapping[str, str]) -> None:
        """Let count and places of a planting agree: places that somebody changed go first, then the count."""
        row, mine = self.plantings[key], self.points.get(key, [])
        placed = f"points {key}" in self.was or bool(mine)
        moved = key in self.added or self.was.get(f"points {key}") != now.get(f"points {key}")
        if not placed:
            return
        shifted = not moved and self._carry_along(row, mine)
        if moved and len(mine) != row["count"]:
            row["cost"] = float(row["cost"]) / max(row["count"], 1) * len(mine)
            row["count"] = len(mine)
        if len(mine) != row["count"]:
            mine = self._recounted(row, mine)
        self.points[key] = mine
        if not mine:
            del self.plantings[key]
            return
        row["geometry"] = MultiPoint([p["geometry"] for p in mine])
        row[BY_HAND] = _yes(row.get(BY_HAND)) or moved or shifted
        if row[BY_HAND] and not str(row["why"]).endswith((WHY, CHANGED)):
            row["why"] = f"{str(row['why']).rstrip('.')}{CHANGED}"
        self._number(row, mine)

    def _carry_along(self, row: Row, mine: list[Row]) -> bool:
        """Let plants follow their bed: shifted with it, or set anew where a new shape leaves them outside."""
        bed = self.beds[row["bed_id"]]
        east, north = self.moved.get(row["bed_id"], (0.0, 0.0))
        if not bed[BY_HAND] or not mine:
            return False
        before = [p["geometry"] for p in mine]
        for point in mine:
            spot = point["geometry"]
            point["geometry"] = Point(spot.x + east, spot.y + north)
        outside = [p for p in mine if bed["geometry"].distance(p["geometry"]) > 1e-6]
        others = [p["geometry"] for p in self._in_bed(row["bed_id"]) if not any(p is o for o in outside)]
        spots = places(bed["geometry"], others, len(outside), float(row["spacing_m"])) if outside else []
        for point, spot in zip(outside, spots, strict=True):
            point["geometry"] = spot
        return before != [p["geometry"] for p in mine]

    def _in_bed(self, bed_id: str) -> list[Row]:
        keys = [key for key, row in self.plantings.items() if row["bed_id"] == bed_id]
        return [point for key in keys for point in self.points.get(key, [])]

    def _recounted(self, row: Row, mine: list[Row]) -> list[Row]:
        """Return as many points as a planting counts: the last ones go, new ones stand where most room is."""
        if len(mine) > row["count"]:
            return mine[: row["count"]]
        bed, like = self.beds[row["bed_id"]], mine[-1] if mine else {}
        others = [p["geometry"] for p in self._in_bed(row["bed_id"])]
        spots = places(bed["geometry"], others, row["count"] - len(mine), float(row["spacing_m"]))
        return [*mine, *({**like, "geometry": spot} for spot in spots)]

    def _number(self, row: Row, mine: list[Row]) -> None:
        """Name the points of a planting, and give them the number that its plant has on the yard's sheet."""
        yard = row["yard_id"]
        of_yard = [
            p for k, r in self.plantings.items() if r["yard_id"] == yard for p in self.points.get(k, [])
        ]
        numbers = {p["plant"]: p["key_number"] for p in of_yard if not pd.isna(p.get("key_number"))}
        number = numbers.get(row["plant"], max(map(int, numbers.values()), default=0) + 1)
        told = row.pop("crown_m", None)
        crown_m = next((p["crown_m"] for p in mine if not pd.isna(p.get("crown_m"))), None)
        if told is None and crown_m is None:
            told = self.facts(row["plant"], row["form"], 1)["crown_m"]
        for k, point in enumerate(mine, start=1):
            point |= {"point_id": f"{row['planting_id']}-{k:03d}", "planting_id": row["planting_id"]}
            point |= {"bed_id": row["bed_id"], "yard_id": yard, "plant": row["plant"]}
            point |= {"height_m": row["height_m"], "key_number": int(number)}
            point |= {"crown_m": crown_m if told is None else told, BY_HAND: row[BY_HAND]}

    def _strike(self, drawn: Drawn) -> None:
        """Tell what was struck, and leave out beds that hold nothing any more."""
        held = {row["bed_id"] for row in self.plantings.values()} | self.living
        for bed_id in [b for b in self.beds if b not in held]:
            bed = self.beds.pop(bed_id)
            if f"bed {bed_id}" not in self.was:
                self.notes.append(
                    remark("hand_bed_empty", _about(bed["yard_id"]), area_m2=float(bed["area_m2"]))
                )
        yards = dict(zip(drawn.plantings["planting_id"], drawn.plantings["yard_id"], strict=True))
        for key in (k.removeprefix("planting ") for k in self.was if k.startswith("planting ")):
            if key not in self.plantings:
                name = self.was[f"planting {key}"].split("|")[0]
                self.notes.append(
                    remark("planting_struck", _about(text_of(yards.get(key))), planting=key, name=name)
                )


def _about(yard: str | None) -> Subject:
    return Subject(yards=(yard,)) if yard else Subject()


def _rows(table: pd.DataFrame) -> Iterator[Row]:
    for row in table.to_dict("records"):
        yield {str(k): v for k, v in row.items()}


def _yes(value: Any) -> bool:
    return value is not None and not pd.isna(value) and bool(value)


def _free(start: str, taken: set[str], digits: int = 1) -> str:
    return next(name for k in range(1, 10_000) if (name := f"{start}{k:0{digits}d}") not in taken)


def _frame(rows: list[Row], like: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    columns = [*(c for c in like.columns if c not in ("geometry", BY_HAND)), BY_HAND]
    data = pd.DataFrame([{c: row.get(c) for c in columns} for row in rows], columns=columns)
    for column in columns:
        if pd.api.types.is_numeric_dtype(like.get(column)) and column != BY_HAND:
            data[column] = pd.to_numeric(data[column])
    return gpd.GeoDataFrame(data, geometry=[row["geometry"] for row in rows], crs=like.crs)

"""A yard measured by tape: a table to fill in, and the yard, buildings, paving and trees read back from it.

Places are measured from a corner of the house (the start): *along* a straight wall, and *out* from it to the
right when looking along; or by two tapes from two points that are known already.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from habitat.errors import LayerError
from habitat.layers.cells import values
from habitat.layers.cells.columns import columns_of
from habitat.layers.cells.places import parse_angle
from habitat.layers.formats.raw import Draft

COLUMNS = (
    "what",
    "name",
    "point",
    "along",
    "out",
    "from_1",
    "distance_1",
    "from_2",
    "distance_2",
    "side",
    "value",
    "crown",
)
HEADINGS = {"what", "point", "along", "out", "from_1"}
"""By these a table is known to be one of tape measurements."""

MOST_NOTES = 65536
"""So many letters of notes may stand before the headings of a tape table; ours has 2,000."""

LAYERS = {
    "yard": "yards",
    "building": "buildings",
    "paving": "paving",
    "water": "water",
    "septic": "septic",
    "keep": "keep",
    "lawn": "lawn",
    "fence": "fences",
    "wires": "wires",
    "buried": "buried",
    "tree": "trees",
    "downspout": "downspouts",
}
POINTS = ("tree", "downspout")
"""What is drawn as one point."""

LINES = ("fence", "wires", "buried")
"""What is drawn as a line, not as an outline."""

UNITS = {
    "feet": 0.3048,
    "foot": 0.3048,
    "ft": 0.3048,
    "metres": 1.0,
    "meters": 1.0,
    "m": 1.0,
    "metre": 1.0,
    "meter": 1.0,
}
SETTINGS = ("unit", "latitude", "longitude", "bearing")
PLACE_SETTINGS = ("parcel", "address", "beside", "side")
"""What may say where a yard stands beside parcels: see ``join.more_yards``."""

SLACK = 0.02
"""Two tapes that miss each other by up to this share of their base are taken to meet on it: judgement."""

TEMPLATE = """\
# One yard measured by tape. Fill in below; lines that begin with # are notes and are not read.
#
# 1. Settings: the unit of all lengths (feet or metres; 12'6" is read too), one latitude and longitude of the
#    START (a corner of the house, from a phone or a map), and the BEARING: the direction in which the chosen
#    house wall runs away from the start, in degrees clockwise from true north (90 = the wall runs east).
# 2. Points: a row per corner, in order around the outline. Measure ALONG the wall's line from the start, and
#    OUT from that line: to the right when you look along it (to the left: minus).
#    Or with two tapes: from_1 and from_2 are points named in rows above, distance_1 and distance_2 the tapes,
#    side is left or right, seen when looking from from_1 to from_2.
# 3. what is yard, building, paving, water, septic, fence, wires, buried (a line), lawn (to keep), keep (beds
#    to leave alone), tree or downspout (where roof water comes out); the same name on several rows makes one
#    outline. For trees and buildings value is the height, for trees crown the width of the crown. point (a
#    helper) only names a place to measure from.
# 4. To see how well it closes: measure the first corner once more at the end of the outline under its name,
#    or add rows with what = check, from_1, from_2 and distance_1, the tape between two corners.
# An example (without the #):
# yard,front yard,A,0,-12'6",,,,,,,
# yard,front yard,B,,,start,55,A,54'3",right,,
# tree,old oak,T1,30,22,,,,,,45,38
{header}
setting,unit,,,,,,,,,feet,
setting,latitude,,,,,,,,,,
setting,longitude,,,,,,,,,,
setting,bearing,,,,,,,,,,
yard,yard 1,A,,,,,,,,,
yard,yard 1,B,,,,,,,,,
yard,yard 1,C,,,,,,,,,
yard,yard 1,D,,,,,,,,,
building,house,start,0,0,,,,,,,
building,house,H2,,,,,,,,,
building,house,H3,,,,,,,,,
building,house,H4,,,,,,,,,
paving,drive,P1,,,,,,,,,
paving,drive,P2,,,,,,,,,
paving,drive,P3,,,,,,,,,
paving,drive,P4,,,,,,,,,
tree,,T1,,,,,,,,,
"""


@dataclass(slots=True)
class Survey:
    """Points by name [m, along and out], and what the table says about each outline in order."""

    unit_m: float
    comma: bool
    where: str
    points: dict[str, tuple[float, float]] = field(default_factory=dict)
    outlines: dict[tuple[str, str], list[tuple[str, int]]] = field(default_factory=dict)
    closing_m: list[tuple[str, float]] = field(default_factory=list)
    told: list[tuple[str, int]] = field(default_factory=list)


def tape_template() -> str:
    """Return the table of a yard measured by tape, to be filled in."""
    return TEMPLATE.format(header=",".join(COLUMNS))


def is_tape(draft: Draft) -> bool:
    """Return whether a table is one of tape measurements."""
    return set(map(str, draft.table.columns)) >= HEADINGS


def is_tape_file(path: Path) -> bool:
    """Return whether a file is a table (CSV) of tape measurements, or a sketch, by its headings.

    Examples
    --------
    >>> is_tape_file(Path("parcels.gpkg"))
    False
    """
    if path.suffix.lower() not in (".csv", ".tsv"):
        return False
    with path.open(encoding="utf-8-sig", errors="replace") as file:
        lines = file.read(MOST_NOTES).splitlines()
    head = next((line for line in lines if line.strip() and not line.startswith("#")), "")
    return {cell.strip().strip('"') for cell in re.split("[,;\t]", head)} >= HEADINGS


def read_tape(draft: Draft, near: tuple[float, float] | None = None) -> dict[str, Draft]:
    """Return the layers that a table of tape measurements describes, in a local plane with north up [m].

    Parameters
    ----------
    draft
        The table.
    near
        Longitude and latitude [degrees] that hold where the table gives none, of a yard that joins others: it
        need not name a bearing (then "out" is south) nor hold a lot.

    Raises
    ------
    LayerError
        If a setting is missing, a point cannot be worked out, or no yard is closed.
    """
    table = draft.table.reindex(columns=list(dict.fromkeys([*COLUMNS, *draft.table.columns])))
    settings = tape_settings(draft)
    if near is not None:
        settings = {"longitude": str(near[0]), "latitude": str(near[1]), "bearing": "90"} | settings
    _refuse_without(settings, draft.where)
    survey = Survey(_unit(settings, draft.where), draft.decimal_comma, draft.where)
    survey.points["start"] = (0.0, 0.0)
    checks: list[tuple[int, Any]] = []
    for row, (_, record) in zip(map(int, table.index), table.iterrows(), strict=True):
        what = str(record["what"] or "").strip().casefold()
        if what == "check":
            checks.append((row, record))
        elif what and what != "setting" and not _is_blank(record):
            _add_point(survey, row, what, record)
    notes = [*_closing_notes(survey, checks), *_twice(table)]
    place = _place(settings, draft.where)
    return _drafts(draft, table, survey, place, notes, needs_lot=near is None)


def _is_blank(record: pd.Series[Any]) -> bool:
    return all(
        values.is_missing(record[c]) for c in ("along", "out", "from_1", "distance_1", "from_2", "distance_2")
    )


def tape_settings(draft: Draft) -> dict[str, str]:
    """Return what the rows that begin with setting give, by name in small letters; blanks are left out."""
    table = draft.table.reindex(columns=list(dict.fromkeys([*COLUMNS, *draft.table.columns])))
    rows = table[table["what"].map(lambda w: str(w or "").strip().casefold()) == "setting"]
    return {
        str(n or "").strip().casefold(): str(v).strip()
        for n, v in zip(rows["name"], rows["value"], strict=True)
        if not values.is_missing(v)
    }


def _twice(table: pd.DataFrame) -> list[tuple[str, int]]:
    """Tell of settings that are given twice, and not alike."""
    rows = table[table["what"].map(lambda w: str(w or "").strip().casefold()) == "setting"]
    rows = rows[[not values.is_missing(v) for v in rows["value"]]]
    given = rows["value"].astype(str).str.strip().groupby(rows["name"].astype(str).str.strip().str.casefold())
    return [
        (f"the setting {name} is given as {' and '.join(dict.fromkeys(told))}: the last counts", 2)
        for name, told in given
        if told.nunique() > 1
    ]


def _refuse_without(settings: dict[str, str], where: str) -> None:
    missing = [name for name in SETTINGS if name not in settings]
    if missing:
        raise LayerError(
            f"the tape table does not give: {', '.join(missing)}",
            where,
            "Fill in value in the rows that begin with setting; of latitude and longitude, for a "
            "yard that is planned alone, those of its town will do",
        )


def _unit(settings: dict[str, str], where: str) -> float:
    unit = UNITS.get(settings["unit"].strip().casefold())
    if unit is None:
        raise LayerError(f"the unit {settings['unit']!r} is not known", where, "Write feet or metres")
    return unit


def _place(settings: dict[str, str], where: str) -> tuple[float, float, float]:
    """Return (longitude, latitude, bearing) [degrees]."""
    lat, lon = parse_angle(settings["latitude"])[0], parse_angle(settings["longitude"])[0]
    bearing = values.number(settings["bearing"].rstrip("°"), decimal_comma=False)
    for name, value, most in (("latitude", lat, 90), ("longitude", lon, 180), ("bearing", bearing, 360)):
        if not abs(value) <= most:
            raise LayerError(
                f"the setting {name} is {settings[name]!r}, which is no angle up to {most} degrees",
                where,
                "Write it in degrees",
            )
    return lon, lat, bearing


def _add_point(survey: Survey, row: int, what: str, record: pd.Series[Any]) -> None:
    if what not in LAYERS and what != "point":
        raise LayerError(
            f"row {row + 1}: what is {what!r}",
            survey.where,
            f"Write one of: {', '.join(LAYERS)}, point, check, setting",
        )
    name = _text(record["point"]) or f"row {row + 1}"
    known = survey.points.get(name)
    place = _measured(survey, row, record)
    key = (what, name if what in POINTS else _text(record["name"]) or what)  # two oaks may have one name
    outline = survey.outlines.setdefault(key, [])
    if place is None:
        if known is None:
            raise LayerError(
                f"row {row + 1}: nothing says where point {name!r} is",
                survey.where,
                "Give along and out, or two tapes",
            )
    elif known is None or (name == "start" and known == place):
        survey.points[name] = place
    else:
        survey.closing_m.append((f"{what} {key[1]}, point {name}", math.dist(known, place)))
        if outline and outline[0][0] == name:
            return
    if what != "point":
        outline.append((name, row))


def _text(value: Any) -> str:
    return "" if values.is_missing(value) else values.tidy(str(value))


def _length(survey: Survey, row: int, record: pd.Series[Any], column: str) -> float | None:
    text = _text(record[column])
    if not text:
        return None
    minus = text.startswith("-")
    value = values.length_m(text.lstrip("-+ "), decimal_comma=survey.comma, unit=survey.unit_m)
    if math.isnan(value):
        raise LayerError(
            f"row {row + 1}: {column} is {text!r}, which is no length",
            survey.where,
            "Write 12.5, 12'6\" or 3.8 m",
        )
    return -value if minus else value


def _measured(survey: Survey, row: int, record: pd.Series[Any]) -> tuple[float, float] | None:
    """Return the place (along, out) [m] that a row measures, None if it only names a point."""
    along, out = _length(survey, row, record, "along"), _length(survey, row, record, "out")
    if along is not None or out is not None:
        for column, length in (("along", along), ("out", out)):
            if length is None:
                survey.told.append((f"row {row + 1}: {column} is blank, which is taken for 0", 1))
        return (along or 0.0, out or 0.0)
    one, two = _length(survey, row, record, "distance_1"), _length(survey, row, record, "distance_2")
    if one is None or two is None:
        return None
    ends = [_text(record["from_1"]), _text(record["from_2"])]
    for end in ends:
        if end not in survey.points:
            raise LayerError(
                f"row {row + 1}: it is measured from {end!r}, which no row above places",
                survey.where,
                "Name points first",
            )
    side = _text(record["side"]).casefold()
    if side not in ("left", "right"):
        raise LayerError(
            f"row {row + 1}: side is {side!r}",
            survey.where,
            "Write left or right, seen from from_1 to from_2",
        )
    found = two_tapes(survey.points[ends[0]], one, survey.points[ends[1]], two, right=side == "right")
    if found is None:
        base = math.dist(survey.points[ends[0]], survey.points[ends[1]])
        raise LayerError(
            f"row {row + 1}: tapes of {one:.2f} m and {two:.2f} m from {ends[0]} and {ends[1]}, "
            f"{base:.2f} m apart, never meet",
            survey.where,
            "Measure them again",
        )
    return found


def two_tapes(
    first: tuple[float, float], one: float, second: tuple[float, float], two: float, *, right: bool
) -> tuple[float, float] | None:
    """Return the point ``one`` from the first and ``two`` from the second point, None if there is none.

    ``right`` takes the one to the right when looking from the first to the second; *out* grows that way.

    Examples
    --------
    >>> two_tapes((0.0, 0.0), 3.0, (5.0, 0.0), 4.0, right=True)
    (1.8, 2.4)
    """
    base = math.dist(first, second)
    if base == 0:
        return None
    over = max(base - one - two, abs(one - two) - base)
    if over > SLACK * base:
        return None
    ahead = (one**2 - two**2 + base**2) / (2 * base)
    aside = math.sqrt(max(0.0, one**2 - ahead**2)) * (1 if right else -1)
    ux, uy = (second[0] - first[0]) / base, (second[1] - first[1]) / base
    return (round(first[0] + ahead * ux - aside * uy, 9), round(first[1] + ahead * uy + aside * ux, 9))


def _closing_notes(survey: Survey, checks: list[tuple[int, Any]]) -> list[tuple[str, int]]:
    errors = list(survey.closing_m)
    for row, record in checks:
        tape = _length(survey, row, record, "distance_1")
        ends = [_text(record["from_1"]), _text(record["from_2"])]
        if tape is None or any(e not in survey.points for e in ends):
            raise LayerError(
                f"row {row + 1}: a check needs from_1, from_2 and distance_1", survey.where, "Fill them in"
            )
        errors.append(
            (f"check {ends[0]} to {ends[1]}", abs(math.dist(*(survey.points[e] for e in ends)) - tape))
        )
    if not errors:
        return [
            ("the closing error is not known: no corner was measured twice and no check tape is given", 1)
        ]
    return [
        (f"closing error: {what} is off by {error:.2f} m", 2 if error > 0.5 else 1) for what, error in errors
    ]


def _drafts(
    draft: Draft,
    table: pd.DataFrame,
    survey: Survey,
    place: tuple[float, float, float],
    notes: list[tuple[str, int]],
    *,
    needs_lot: bool,
) -> dict[str, Draft]:
    lon, lat, bearing = place
    crs = CRS.from_proj4(f"+proj=aeqd +lat_0={lat!r} +lon_0={lon!r} +datum=WGS84 +units=m")
    turn = math.radians(bearing)
    axes = np.array([[math.sin(turn), math.cos(turn)], [math.cos(turn), -math.sin(turn)]])
    out: dict[str, Draft] = {}
    for layer, records, shapes in _layers(table, survey, axes):
        one = Draft(
            layer,
            draft.where,
            pd.DataFrame(records),
            np.array([*shapes, None], dtype=object)[:-1],
            crs,
            "file",
            draft.encoding,
            own_format="tape",
            rows_in=len(records),
        )
        out[layer] = one
    if "yards" not in out and needs_lot:
        raise LayerError(
            "no yard has three corners that are filled in",
            draft.where,
            "Fill in the rows that begin with yard",
        )
    first = out.get("yards") or next(iter(out.values()), None)
    if first is None:
        raise LayerError("nothing is drawn in it", draft.where, "Fill in rows, or draw something")
    for what, harm in (*(notes if needs_lot or "yards" in out else ()), *survey.told):
        first.tell(what, harm=harm)
    first.notes += draft.notes
    return out


def _layers(
    table: pd.DataFrame, survey: Survey, axes: Any
) -> Iterator[tuple[str, list[dict[str, Any]], list[Any]]]:
    for what, layer in LAYERS.items():
        records: list[dict[str, Any]] = []
        shapes: list[Any] = []
        for (kind, name), corners in survey.outlines.items():
            if kind == what:
                places = [np.array(survey.points[p]) @ axes for p, _ in corners]
                shapes.append(_shape(what, name, places, survey.where))
                records.append(_record(what, layer, table.loc[[corners[0][1]]].iloc[0], survey))
        if records:
            yield layer, records, shapes


def _shape(what: str, name: str, corners: list[Any], where: str) -> Any:
    if what in POINTS:
        return shapely.Point(corners[0])
    if what in LINES:
        if len(corners) < 2:
            raise LayerError(f"the {what} {name!r} has one point only", where, "Give it two or more")
        return shapely.LineString(corners)
    if len(corners) < 3:
        raise LayerError(
            f"the {what} {name!r} has {len(corners)} corner(s)", where, "An outline needs three or more"
        )
    return shapely.Polygon(corners)


def _record(what: str, layer: str, first: pd.Series[Any], survey: Survey) -> dict[str, Any]:
    name = _text(first["name"])
    if what == "yard":
        return {"yard_id": name or what}
    if what == "building":
        return {"name": name or what, "height_m": _size(survey, layer, "height_m", first, "value")}
    if what == "tree":
        return {
            "name": name or _text(first["point"]) or f"row {int(str(first.name)) + 1}",
            "plant": name or None,
            "height_m": _size(survey, layer, "height_m", first, "value"),
            "crown_m": _size(survey, layer, "crown_m", first, "crown"),
            "evergreen": False,
        }
    return {"name": name or what}


def _size(survey: Survey, layer: str, ours: str, first: pd.Series[Any], column: str) -> float:
    """Return a height or width [m]; NaN where it is not told or cannot be, and that is told."""
    text = _text(first[column])
    if not text:
        return math.nan
    size = values.length_m(text, decimal_comma=survey.comma, unit=survey.unit_m)
    wanted = next(c for c in columns_of(layer) if c.name == ours)
    if not wanted.low <= size <= wanted.high:
        limits = f"no length of {wanted.low:g} to {wanted.high:g} m"
        survey.told.append(
            (f"row {int(str(first.name)) + 1}: {column} {text[:40]!r} is {limits}: unknown", 2)
        )
        return math.nan
    return size

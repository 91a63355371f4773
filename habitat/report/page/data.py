"""What the page's script reads: one JSON object, made from the plan's tables."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from habitat.planting.anchors import LIKELY
from habitat.report.package.geopackage import plain_json, records
from habitat.report.page.breaks import break_sentences
from habitat.report.page.mine import mine_entries
from habitat.report.page.paths import Sheet
from habitat.report.page.yards import FACTS, Yards, steps_of, yard_entries
from habitat.report.plan import Plan
from habitat.report.words.figures import area_words, figure_words
from habitat.report.words.numbers import Units, share
from habitat.report.words.text import plain
from habitat.terms import ANCHOR, anchor_id, anchor_name

STATES = ("today", "members", "everyone")
REACHES = ("low_reach", "high_reach")
AREA = "equivalent_area_m2"


def butterflies_of(plan: Plan) -> list[str]:
    """Return the butterflies of the corridor, in the order of the study's wishes."""
    have = list(plan.headline.get("butterflies", {}))
    wished = [b for b in plan.study.planting.wishes if b in have]
    return wished + [b for b in have if b not in wished]


def page_data(plan: Plan, sheet: Sheet) -> dict[str, Any]:
    """Return everything that the page's script needs, as plain values.

    Places are numbered: yards first, in the order of ``plan.yards``, then anchors. Coordinates are decimetres
    of the map's frame.
    """
    names = butterflies_of(plan)
    yards = Yards.of(plan, names, sheet)
    places = {y: i for i, y in enumerate([*plan.yards["yard_id"], *anchor_ids(plan)])}
    together, units = plan.headline.get("together", {}), Units(plan.study.report.units)
    by_ground = plan.study.connectivity.distance == "by ground"
    yards.said("")  # number 0: nothing
    mine = mine_entries(plan)
    entries = [
        entry | ({"mine": mine[y]} if y in mine else {})
        for y, entry in zip(plan.yards["yard_id"], yard_entries(yards), strict=True)
    ]
    return plain_json(
        {
            "butterflies": [_butterfly(plan, name) for name in names],
            "together": [figure_words(together, s, AREA, units) for s in STATES],
            "yards": entries,
            "facts": FACTS,
            "words": list(yards.words),
            "anchors": [plain(anchor_name(a)) for a in anchor_ids(plan)],
            "steps": _steps(plan, names, places),
            "links": [_links(plan, name, places, sheet) for name in names],
            "chains": [_chains(plan, name, places, sheet) for name in names],
            "breaks": [break_sentences(plan.breaks.get(name, {}), yards.say, by_ground) for name in names],
            "by_ground": by_ground,
            "us": plan.study.report.units == "us",
            "contact": plain(plan.study.study.contact, 200),
        }
    )


OPENED = ("facts", "house", "paved", "beds", "points", "plants", "mine")
"""What of a yard's entry only an opened yard shows."""


SHORT = 12
"""Texts of fewer letters are written where they stand: a number for them would be as long."""


def apart(data: dict[str, Any]) -> tuple[dict[str, Any], list[Any], list[str]]:
    """Return what the page reads when it loads, by yard what it reads when that yard is opened, and texts.

    Parameters
    ----------
    data
        As ``page_data`` returns it. Of its plants the first part keeps ``count``, and ``kinds``: the numbers
        of their names, by which the table is searched. In the second, ``{"t": 7}`` stands for text 7 of the
        third: yards say much in the same words, which are written once.
    """
    texts: dict[str, int] = {}
    told, opened = [], []
    for entry in data["yards"]:
        plants = entry.get("plants", [])
        names = list(dict.fromkeys(n for row in plants for n in row[1:3]))
        few = {key: value for key, value in entry.items() if key not in OPENED}
        told.append(few | ({"count": sum(row[3] for row in plants), "kinds": names} if plants else {}))
        opened.append(_numbered({key: entry[key] for key in OPENED if key in entry}, texts))
    return data | {"yards": told}, opened, list(texts)


def _numbered(value: Any, texts: dict[str, int]) -> Any:
    """Return a value with the numbers of its long texts in place of them."""
    if isinstance(value, str):
        return value if len(value) < SHORT else {"t": texts.setdefault(value, len(texts))}
    if isinstance(value, dict):
        return {key: _numbered(part, texts) for key, part in value.items()}
    return [_numbered(part, texts) for part in value] if isinstance(value, list) else value


def anchor_ids(plan: Plan) -> list[str]:
    """Return the ids of anchors in corridor tables, in the order of the anchors layer."""
    frame = plan.layers.frame("anchors")
    if frame is None or "name" not in frame:
        return []
    return list(dict.fromkeys(anchor_id(str(n)) for n in frame["name"]))


def embedded(data: Any) -> str:
    r"""Return data as JSON that may stand in a ``script`` element: no character there can end it.

    Examples
    --------
    >>> embedded({"name": "</script>"})
    '{"name":"\\u003c/script\\u003e"}'
    """
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _butterfly(plan: Plan, name: str) -> dict[str, Any]:
    entry = plan.headline["butterflies"][name]
    return {
        "name": name,
        "common": common_name(plan, name),
        "words": [figure_words(entry, s, AREA, Units(plan.study.report.units)) for s in STATES],
        "anchors": _anchors(plan, name),
        "far": bool(plan.breaks.get(name, {}).get("unlimited")),
    }


def _anchors(plan: Plan, name: str) -> list[str]:
    """Return by anchor whether a butterfly breeds there (held), likely does (likely), or neither ("")."""
    table = plan.yard_butterflies
    rows = table[(table["butterfly"] == name) & (table["role"] == ANCHOR)]
    frame = plan.layers.frame("anchors")
    shapes = [] if frame is None or "name" not in frame else [anchor_id(str(n)) for n in frame["name"]]
    held = set(rows.loc[rows["habitat_m2"] > 0, "yard_id"])
    likely = set(rows.loc[rows["missing"] == LIKELY, "yard_id"])
    return ["held" if a in held else "likely" if a in likely else "" for a in shapes]


def _on_the_way(area_m2: float, entry: dict[str, Any], units: Units) -> str:
    """Return an area on the way through the invitations, its range as wide as with the members' plans."""
    value, *ends = (e["members"][AREA] for e in (entry, *(entry.get(r, entry) for r in REACHES)))
    scale = area_m2 / value if value > 0.0 else 1.0
    return area_words(area_m2, *(scale * float(e) for e in ends), units=units)


def _share(value: float | None, *ends: float | None) -> str:
    """Return a share with its range in words; ends that are not known are left out."""
    if value is None or pd.isna(value):
        return "unknown"
    low, high = (value if e is None or pd.isna(e) else e for e in ends)
    return share(value, low, high)


def common_name(plan: Plan, butterfly: str) -> str:
    """Return the common name of a butterfly, or the scientific one if there is none."""
    table = plan.knowledge.butterflies
    return str(table.loc[butterfly, "common_name"]) if butterfly in table.index else butterfly


def _rounded(value: Any, digits: int) -> float | None:
    return None if value is None or pd.isna(value) else round(float(value), digits)


def _area(plan: Plan, name: str, row: dict[str, Any]) -> float:
    """Return a butterfly's area in a row of invitation steps, which hold it over that with everyone."""
    return float(row.get(name) or 0.0) * float(plan.headline["butterflies"][name]["everyone"][AREA])


def _steps(plan: Plan, names: list[str], places: dict[str, int]) -> list[dict[str, Any]]:
    units = Units(plan.study.report.units)
    return [
        {
            "yard": places.get(row.get("yard_id") or "", -1),
            "together": _on_the_way(float(row["connected_m2"]), plan.headline["together"], units),
            "words": [
                _on_the_way(_area(plan, name, row), plan.headline["butterflies"][name], units)
                for name in names
            ],
        }
        for row in records(plan.invitation_steps)
    ]


def _links(plan: Plan, name: str, places: dict[str, int], sheet: Sheet) -> list[list[int]]:
    """Return [states, from, to, x, y, step x, step y, ...] per link whose ends are both on the map.

    ``states`` adds 1, 2 and 4 for today, members and everyone.
    """
    mine = plan.links[plan.links["butterfly"] == name] if len(plan.links) else plan.links
    found: dict[tuple[int, ...], int] = {}
    for k, state in enumerate(STATES):
        for line in _lines(_of_state(mine, state), places, sheet):
            found[line] = found.get(line, 0) | 1 << k
    return [[states, *line] for line, states in found.items()]


def _of_state(frame: gpd.GeoDataFrame, state: str) -> gpd.GeoDataFrame:
    return frame[frame["state"] == state] if len(frame) else frame


def _lines(frame: gpd.GeoDataFrame, places: dict[str, int], sheet: Sheet) -> list[tuple[int, ...]]:
    """Return (from, to, x, y, step x, step y, ...) per link whose ends are both on the map."""
    rows = []
    for a, b, shape in zip(
        _column(frame, "from_yard"), _column(frame, "to_yard"), _shapes(frame), strict=True
    ):
        if a in places and b in places and shape is not None and not shape.is_empty:
            xy = sheet.cells(shapely.get_coordinates(shape)).ravel().tolist()
            rows.append((places[a], places[b], *steps_of(xy)))
    return rows


def _column(frame: gpd.GeoDataFrame, name: str) -> list[Any]:
    return frame[name].tolist() if len(frame) else []


def _shapes(frame: gpd.GeoDataFrame) -> Iterable[Any]:
    return frame.geometry.tolist() if len(frame) else []


def _chains(plan: Plan, name: str, places: dict[str, int], sheet: Sheet) -> dict[str, list[dict[str, Any]]]:
    mine = plan.chain[plan.chain["butterfly"] == name] if len(plan.chain) else plan.chain
    out: dict[str, list[dict[str, Any]]] = {}
    for state in STATES:
        rows = _of_state(mine, state)
        out[state] = [
            {
                "step": int(r["step"]),
                "from": places[r["from_yard"]],
                "to": places[r["to_yard"]],
                "distance_m": _rounded(r["distance_m"], 1),
                "passage": _share(r["passage"], *(r.get(f"passage_{reach}") for reach in REACHES)),
                "weakest": bool(r["weakest"]),
                "line": sheet.cells(shapely.get_coordinates(shape)).ravel().tolist(),
            }
            for r, shape in zip(records(rows), _shapes(rows), strict=True)
            if r["from_yard"] in places and r["to_yard"] in places and shape is not None
        ]
    return out

"""Two runs side by side: what changed, and for whom."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.errors import LayerError, MissingFileError, OutputError
from habitat.layers.formats.results import read_results
from habitat.report.compare.to_do import to_do
from habitat.report.compare.words import TITLE, comparison_lines, comparison_page
from habitat.report.whole import write_whole
from habitat.report.words.figures import FIGURES
from habitat.report.written import naming_edits, sha256_of

__all__ = ["compare_runs", "comparison_lines", "write_comparison"]

SHAPED = ("beds", "plant_points", "existing_plants")
"""Layers of which places are compared."""

STATES = ("today", "members", "invited")


def compare_runs(before: str | Path, after: str | Path) -> dict[str, Any]:
    """Compare the results of two runs.

    Parameters
    ----------
    before, after
        Folders that ``habitat.write_plan`` made.

    Returns
    -------
    dict
        Plain values, ready for JSON; each figure is a dict with ``before`` and ``after``. ``to_do``: what a
        coordinator must do (``habitat.report.compare.to_do.to_do``), None for runs for the public; with
        ``follows``, whether the second run names the first by hash. ``runs``: name,
        date, audience. ``together``: absolute figures (``habitat.report.words.figures.FIGURES``) by state.
        ``butterflies``: a row each with common_name and the same figures. ``counts``, ``cost``,
        ``cost_of_members``, ``currency``. ``yards``: a row
        per yard that changed, with ``change`` in words. ``yards_unchanged``: how many did not. ``settings``,
        ``inputs``, ``versions``: what differs in what the runs were made from. ``remarks``: what to mind.

    Raises
    ------
    MissingFileError
        If a folder does not hold results.
    LayerError
        If its files cannot be read.
    """
    with naming_edits(Path(before), Path(after)):
        result = _compared(_read(Path(before)), _read(Path(after)))
        comparison_lines(result)  # what cannot be told in words is not what a run writes
    return result


def _compared(one: dict[str, Any], two: dict[str, Any]) -> dict[str, Any]:
    head = {"before": one["run"].get("headline", {}), "after": two["run"].get("headline", {})}
    matched = "public" not in (one["run"].get("audience"), two["run"].get("audience"))
    rows, unchanged = _yards(one, two) if matched else ([], 0)
    return {
        "to_do": to_do(one, two) | {"follows": _follows(one, two)} if matched else None,
        "runs": {side: _about(r["run"]) for side, r in (("before", one), ("after", two))},
        "together": {f: {s: _pair(head, "together", s, f) for s in STATES} for f in FIGURES},
        "butterflies": _butterflies(head, one["names"] | two["names"]),
        "counts": {k: _pair(head, "counts", k) for k in _keys(head, "counts")},
        "cost": _pair(head, "cost"),
        "cost_of_members": _pair(head, "cost_of_members"),
        "currency": {side: _currency(r["run"]) for side, r in (("before", one), ("after", two))},
        "yards": rows,
        "yards_unchanged": unchanged,
        "settings": _differences(one["run"].get("settings", {}), two["run"].get("settings", {})),
        "inputs": _differences(one["run"].get("inputs", {}), two["run"].get("inputs", {})),
        "versions": _differences(one["run"].get("versions", {}), two["run"].get("versions", {})),
        "remarks": _remarks(matched, one["run"], two["run"]),
    }


def write_comparison(result: dict[str, Any], page: str | Path, *, replace: bool = False) -> Path:
    """Write a comparison as one HTML page that opens offline.

    Raises
    ------
    OutputError
        If the file exists and ``replace`` is false or it is no such page, or it cannot be written.
    """
    page = Path(page)
    if page.exists() and not replace:
        raise OutputError(
            "this file exists already", str(page), "Add --replace to replace it, or name another"
        )
    if page.exists() and not _is_comparison(page):
        raise OutputError("this is no page of a comparison, so it is not replaced", str(page), "Name another")
    contents = {page.name: comparison_page(result).encode()}
    return write_whole(page.parent, contents, "the comparison", "Name another file")[0]


def _is_comparison(page: Path) -> bool:
    """Return whether a file begins as the pages do that are written here."""
    if not page.is_file():
        return False
    with page.open("rb") as file:
        return f"<title>{TITLE}</title>".encode() in file.read(2000)


def _read(folder: Path) -> dict[str, Any]:
    for name in ("run.json", "plan.gpkg"):
        if not (folder / name).is_file():
            raise MissingFileError(
                f"there are no results of a run here ({name} is missing)",
                str(folder),
                "Name a folder that 'habitat run' wrote",
            )
    try:
        run = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    except (ValueError, OSError, RecursionError) as error:
        raise LayerError(
            f"the results cannot be read ({error})", str(folder), "Run the study again"
        ) from error
    if not isinstance(run, dict):
        raise LayerError("run.json does not hold an object", str(folder), "Run the study again")
    tables = {
        name: read_results(folder / "plan.gpkg", name, shapes=name in SHAPED)
        for name in ("yards", "plantings", "yard_butterflies", *SHAPED)
    }
    pairs = tables["yard_butterflies"].drop_duplicates("butterfly")
    run_sha256 = sha256_of(folder / "run.json")
    return {
        "run": run,
        "run_sha256": run_sha256,
        **tables,
        "names": dict(zip(pairs["butterfly"], pairs["common_name"], strict=True)),
    }


def _follows(one: dict[str, Any], two: dict[str, Any]) -> bool:
    """Return whether the second run was made after the first, or drawn anew from it."""
    named = (_at(two["run"], (key, "run_sha256")) for key in ("after", "redrawn_from"))
    return one["run_sha256"] in named


def _about(run: dict[str, Any]) -> dict[str, Any]:
    return {"study": run.get("study"), "date": run.get("date"), "audience": run.get("audience")}


def _currency(run: dict[str, Any]) -> str:
    return str(_at(run, ("settings", "planting", "currency")) or "")


def _pair(head: dict[str, Any], *path: str) -> dict[str, Any]:
    return {side: _at(head[side], path) for side in ("before", "after")}


def _at(value: Any, path: tuple[str, ...]) -> Any:
    for key in path:
        value = value.get(key) if isinstance(value, dict) else None
    return value


def _keys(head: dict[str, Any], key: str) -> list[str]:
    both = [*(head["before"].get(key) or {}), *(head["after"].get(key) or {})]
    return list(dict.fromkeys(both))


def _butterflies(head: dict[str, Any], names: dict[str, str]) -> list[dict[str, Any]]:
    rows = []
    for name in sorted(_keys(head, "butterflies")):
        row: dict[str, Any] = {"butterfly": name, "common_name": names.get(name)}
        for figure in FIGURES:
            row[figure] = {s: _pair(head, "butterflies", name, s, figure) for s in STATES}
        rows.append(row)
    return rows


def _yards(one: dict[str, Any], two: dict[str, Any]) -> tuple[list[dict[str, Any]], int]:
    a, b = _summaries(one), _summaries(two)
    rows, unchanged = [], 0
    for yard in [*a, *[y for y in b if y not in a]]:
        old, new = a.get(yard), b.get(yard)
        change = _change(old, new)
        if not change:
            unchanged += 1
            continue
        plants_old, plants_new = ((s or {}).get("plants", {}) for s in (old, new))
        row: dict[str, Any] = {"yard_id": yard, "change": change}
        for key in ("role", "cost", "count", "hosts", "nectar_months", "life_cycles_closed"):
            row[key] = {"before": (old or {}).get(key), "after": (new or {}).get(key)}
        row["plants_new"] = sorted(set(plants_new) - set(plants_old))
        row["plants_gone"] = sorted(set(plants_old) - set(plants_new))
        rows.append(row)
    return rows, unchanged


def _change(old: dict[str, Any] | None, new: dict[str, Any] | None) -> str:
    """Say what changed for a yard; empty if nothing did."""
    if old is None:
        return "new in the second run"
    if new is None:
        return "only in the first run"
    told = []
    if old["role"] != new["role"]:
        told.append(f"{old['role']} became {new['role']}")
    if not old["plants"] and new["plants"]:
        told.append("got a plan")
    elif old["plants"] and not new["plants"]:
        told.append("lost its plan")
    elif old["plants"] != new["plants"]:
        told.append("other plants or numbers")
    elif old["places"] != new["places"]:
        told.append("same plants in other places")
    if old["life_cycles_closed"] != new["life_cycles_closed"]:
        told.append("life cycles closed changed")
    return "; ".join(told)


def _summaries(run: dict[str, Any]) -> dict[str, dict[str, Any]]:
    plantings, beds = run["plantings"], run["beds"]
    counts = plantings.groupby(["yard_id", "plant"])["count"].sum()
    places = _places(beds)
    out = {}
    for yard in run["yards"].to_dict(orient="records"):
        name = yard["yard_id"]
        mine = counts.loc[[name]].droplevel(0).to_dict() if name in counts.index else {}
        out[name] = {
            "role": yard["role"],
            "cost": _number(yard["cost"]),
            "count": int(sum(mine.values())),
            "plants": {k: int(v) for k, v in mine.items()},
            "places": places.get(name, ()),
            **{k: _number(yard[k]) for k in ("hosts", "nectar_months", "life_cycles_closed")},
        }
    return out


def _places(beds: gpd.GeoDataFrame) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for yard, shape in zip(beds["yard_id"], beds.geometry, strict=True):
        if shape is not None and not shape.is_empty:
            found.setdefault(yard, []).append(shape.normalize().wkb_hex)
    return {yard: tuple(sorted(shapes)) for yard, shapes in found.items()}


def _number(value: Any) -> float | None:
    return None if pd.isna(value) else float(value)


def _differences(old: Any, new: Any, path: str = "") -> list[dict[str, Any]]:
    """Return what differs in nested settings, a row per key."""
    if isinstance(old or new, dict) and isinstance(new or old, dict):
        old, new = old or {}, new or {}
        return [
            row
            for key in dict.fromkeys([*old, *new])
            for row in _differences(old.get(key), new.get(key), f"{path}.{key}" if path else str(key))
        ]
    return [] if old == new else [{"key": path, "before": old, "after": new}]


def _remarks(matched: bool, one: dict[str, Any], two: dict[str, Any]) -> list[str]:
    told = []
    if one.get("study") != two.get("study"):
        told.append("The two runs are of studies with different names.")
    if not matched:
        told.append(
            "Yards are not compared: a run for a public audience numbers its yards anew, so that they cannot "
            "be told apart."
        )
    return told

"""The tables that ``habitat check`` shows to people, worst things first."""

from __future__ import annotations

import re
from typing import Any

from habitat.commands.check.types import Account, NoteRecord

SHOWN_ALIKE, SHOWN_NOTES, SHOWN_ROWS = 3, 24, 12
"""So many notes that differ only in names and numbers are shown, so many of a layer and weight, and so many
rows of a note that says the same of each."""

Printed = tuple[str, list[dict[str, Any]]]
"""Title and rows of a table, each a cell by heading."""

HARM = {3: "likely wrong", 2: "look at this", 1: "told", 0: "for the record"}


def check_tables(result: Account) -> list[Printed]:
    """Return title and rows of the tables of a check: layers, rasters, yards, and what there is to tell.

    Of what could not be read there is nothing to show; its error is told by itself.
    """
    shown = ((result["layers"], _layers), (result["rasters"], _rasters), (result["yards"], _yards))
    tables = [make(result) for part, make in shown if part]
    return [*tables, _notes(result)] if tables else []


def _layers(result: Account) -> Printed:
    rows = []
    for name, layer in result["layers"].items():
        area = f"{layer['area_m2']:,.0f}" if layer["area_m2"] is not None else ""
        counts = {k: f"{layer[k]:,}" for k in ("rows_in", "used", "repaired", "set_aside")}
        told = {"CRS": layer["crs"] or "none", "area m²": area, "to tell": _weight(layer["notes"])}
        rows.append({"layer": name, **counts, **told})
    return "Layers: rows in = used + repaired + set aside", rows


def _rasters(result: Account) -> Printed:
    rows = []
    for name, raster in result["rasters"].items():
        shares = [y["known_share"] for y in raster["yards"]]
        whole, none = sum(s >= 0.999 for s in shares), sum(s <= 0 for s in shares)
        known = [f"{n:,}" if shares else "" for n in (whole, len(shares) - whole - none, none)]
        kind = "quantity" if raster["kind"] == "continuous" else "classes"
        size = {"CRS": raster["crs"] or "none", "cell m": f"{raster['cell_m']:.3g}"}
        counts = dict(zip(("whole", "part", "none"), known, strict=True))
        rows.append({"raster": name, "kind": kind, **size, **counts, "to tell": _weight(raster["notes"])})
    return "Rasters: yards known whole, in part, not at all", rows


def _yards(result: Account) -> Printed:
    areas = sorted(y["area_m2"] for y in result["yards"])
    roles = [y["role"] for y in result["yards"]]
    told = {"yards": f"{len(areas):,}"}
    told |= {f"of these {role}": f"{roles.count(role):,}" for role in ("member", "candidate", "other")}
    told["ground covered, overlaps once"] = f"{result['ground_area_m2']:,.1f} m²"
    told["ground in more than one yard"] = f"{result['overlap_m2']:,.2f} m²"
    if grid := result["grid"]:
        size = f"{grid['cols']:,} x {grid['rows']:,} cells of {grid['cell_m']:g} m"
        told["grid, and memory for its rasters in a run"] = f"{size}, {max(1, grid['memory_mb']):,.0f} MB"
    if areas:
        middle = areas[len(areas) // 2]
        told["smallest, median, largest yard"] = f"{areas[0]:,.1f} m², {middle:,.1f} m², {areas[-1]:,.1f} m²"
    for name, counts in result["tables"].items():
        whole = counts["matched"] + counts["unmatched"]
        told[f"rows of {name} matched to a yard"] = f"{counts['matched']:,} of {whole:,}"
    return f"Yards, on {result['crs']}", [{"what": k, "how much": v} for k, v in told.items()]


def _weight(notes: list[NoteRecord]) -> str:
    """Return how many notes matter, and how heavy the worst is."""
    serious = [n["harm"] for n in notes if n["harm"] > 0]
    return f"{len(serious)}, {HARM[max(serious)]}" if serious else ""


def _notes(result: Account) -> Printed:
    rows = []
    told: dict[tuple[int, str], list[str]] = {}
    for name, part in [("study", result), *result["layers"].items(), *result["rasters"].items()]:
        for note in part["notes"]:
            told.setdefault((-note["harm"], name), []).append(note["what"])
    for (harm, where), lines in sorted(told.items(), key=lambda item: item[0][0]):
        told_once = _rows_together(lines)
        shown = _some_of_each(told_once)
        for line in shown:
            rows.append((HARM[-harm], where, line))
        if len(told_once) > len(shown):
            more = len(told_once) - len(shown)
            rows.append((HARM[-harm], where, f"and {more} more like these; --json gives all of them"))
    heads = ("weight", "where", "what")
    return "What there is to tell, in order of harm", [dict(zip(heads, r, strict=True)) for r in rows]


def _rows_together(lines: list[str]) -> list[str]:
    """Return lines with those that say the same of several rows as one, at the place of the first."""
    rows: dict[str, list[str]] = {}
    for line in lines:
        said = re.fullmatch(r"(?s)(\w+) row (\d+): (.*)", line)
        key, row = (f"{said[1]} rows {{}}: {said[3]}", said[2]) if said else (line, "")
        rows.setdefault(key, []).append(row)
    out = []
    for key, numbers in rows.items():
        if len(numbers) > 1 and numbers[0]:
            more = f" and {len(numbers) - SHOWN_ROWS} more" if len(numbers) > SHOWN_ROWS else ""
            out.append(key.replace("{}", ", ".join(numbers[:SHOWN_ROWS]) + more, 1))
        else:
            out += [key.replace("rows {}", f"row {numbers[0]}", 1) if numbers[0] else key] * len(numbers)
    return out


def _some_of_each(lines: list[str]) -> list[str]:
    """Return a few lines of each kind, so that many of one kind hide none of another."""
    kinds: dict[str, list[str]] = {}
    for line in lines:
        bare = re.sub(r"'[^']*'|\d[\d.,]*", "", line.split(": ", 1)[-1])
        kinds.setdefault(bare[:40], []).append(line)
    return [line for same in kinds.values() for line in same[:SHOWN_ALIKE]][:SHOWN_NOTES]

"""A yard of a parcel file on the sketch page: what is known in light lines, to draw in what is missing."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from habitat.errors import MissingFileError
from habitat.layers.crs import WGS84, mover
from habitat.layers.formats.results import read_results
from habitat.layers.formats.tape import LAYERS, POINTS
from habitat.layers.join.people import find_yard
from habitat.layers.types import Layers
from habitat.pipeline.reading import read_layers
from habitat.report.whole import write_whole
from habitat.report.words.text import file_names
from habitat.study.reading import read_study

FOLDER = "more_yards"
NEAR_M = 6.0
"""Things so near to the yard are shown with it."""


def page_text(start: dict[str, Any] | None = None) -> str:
    """Return the page; ``start`` is what it shows of a yard, as ``sketch.js`` reads it."""
    assets = resources.files("habitat.report") / "assets"
    page = (assets / "sketch.html").read_text(encoding="utf-8")
    script = (assets / "sketch.js").read_text(encoding="utf-8")
    data = json.dumps(start, ensure_ascii=True, allow_nan=False).replace("<", "\\u003c")
    return page.replace("/*SCRIPT*/", script).replace("/*START*/", data)


def write_parcel_sketch(folder: Path, said: str, results: Path | None) -> tuple[Path, Path]:
    """Write the page of one yard into its study's folder; return it, and the path for what it saves.

    Parameters
    ----------
    folder
        The study's folder.
    said
        The yard, by id or address.
    results
        Results of a run, whose beds are shown too; None for none.

    Raises
    ------
    HabitatError
        If the study cannot be read, no such yard is there, or the results hold no plan.
    """
    study = read_study(folder)
    layers = read_layers(study)
    yard_id = find_yard(layers.yards, said)
    stem = file_names([yard_id], "", "")[yard_id]
    start = page_start(layers, yard_id, stem) | {"folder": FOLDER}
    if results is not None:
        start["known"] += _beds(layers, yard_id, results)
    if study.report.units != "us":
        start["state"]["unit"] = "metres"
    contents = {f"sketch-{stem}.html": page_text(start).encode()}
    page = write_whole(study.folder, contents, "the page", "Let the study's folder be written")[0]
    (study.folder / FOLDER).mkdir(exist_ok=True)  # there the file goes that the page saves
    return page, study.folder / FOLDER / start["file"]


def page_start(layers: Layers, yard_id: str, stem: str) -> dict[str, Any]:
    """Return what the page begins with: title, file, state, and what is known, in metres east and south."""
    row = layers.yards[layers.yards["yard_id"] == yard_id].iloc[0]
    lon, lat = _middle(layers, yard_id)
    address = row["address"] if isinstance(row["address"], str) else ""
    return {
        "title": address or f"yard {yard_id}",
        "file": f"{stem}.csv",
        "state": {"parcel": yard_id, "longitude": f"{lon:.8f}", "latitude": f"{lat:.8f}", "unit": "feet"},
        "known": _known(layers, yard_id),
    }


def _middle(layers: Layers, yard_id: str) -> tuple[float, float]:
    shape = layers.yards.geometry[layers.yards["yard_id"] == yard_id].iloc[0]
    lon, lat = mover(layers.crs, WGS84).transform(shape.centroid.x, shape.centroid.y)
    return round(float(lon), 8), round(float(lat), 8)


def _known(layers: Layers, yard_id: str) -> list[dict[str, Any]]:
    shape = layers.yards.geometry[layers.yards["yard_id"] == yard_id].iloc[0]
    out = [_item(layers, yard_id, "yard", shape, "")]
    for what, name in LAYERS.items():
        frame = layers.frame(name)
        if name == "yards" or frame is None or not len(frame):
            continue
        near = frame[frame.geometry.distance(shape) <= NEAR_M]
        widths = near["crown_m"] if "crown_m" in near else [np.nan] * len(near)
        for one, across in zip(near.geometry, widths, strict=True):
            out.append(_item(layers, yard_id, what, one.centroid if what in POINTS else one, "", across))
    return out


def _beds(layers: Layers, yard_id: str, results: Path) -> list[dict[str, Any]]:
    """Return the beds that are planned, to be seen: they are drawn, and not saved."""
    path = results / "plan.gpkg"
    if not path.is_file():
        raise MissingFileError(
            "there is no plan.gpkg", str(results), "Name a folder of results of 'habitat run'"
        )
    beds = read_results(path, "beds").to_crs(layers.crs)
    mine = beds[beds["yard_id"].astype(str) == yard_id]
    return [
        _item(layers, yard_id, "bed", shape, f"bed {int(number)}")
        for shape, number in zip(mine.geometry, mine["bed_number"], strict=True)
    ]


def _item(
    layers: Layers, yard_id: str, what: str, shape: BaseGeometry, name: str, across: float = np.nan
) -> dict[str, Any]:
    """Return a thing in the plane of the page: metres to the east and to the south of the yard's middle."""
    lon, lat = _middle(layers, yard_id)
    plane = CRS.from_proj4(f"+proj=aeqd +lat_0={lat!r} +lon_0={lon!r} +datum=WGS84 +units=m")
    move = mover(layers.crs, plane)
    flat = shapely.force_2d(shape)
    parts = []
    for part in shapely.get_parts(flat):
        line = part.exterior if part.geom_type == "Polygon" else part
        x, y = move.transform(*shapely.get_coordinates(line).T)
        parts.append(np.column_stack([x, -np.asarray(y)]).round(3).tolist())
    return {"what": what, "name": name, "parts": parts, "across": float(across) if across > 0 else 3.0}

"""One map of what was read, with the rows marked that were repaired, set aside or need a look."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import geopandas as gpd
import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from habitat.errors import OutputError
from habitat.layers.types import Layers, VectorLayer
from habitat.report.whole import write_whole

GROUND = {
    "yards": "#f4f1e8",
    "landcover": "#dfe8d8",
    "water": "#9cc3dd",
    "paving": "#c9c9c9",
    "buildings": "#8f8a84",
    "anchors": "#a9c98f",
    "septic": "#d8c7a8",
    "keep": "#cfe3c4",
    "lawn": "#e3ecc9",
    "soil_units": "none",
}
LINES = {"streets": "#777777", "wires": "#444444", "buried": "#7a5c2e", "fences": "#b08d57"}
POINTS = {
    "plants": ("#2a7f3f", "o"),
    "trees": ("#1d5a2d", "^"),
    "downspouts": ("#1f5f8a", "d"),
    "soil_tests": ("#7a4a1f", "s"),
    "sightings": ("#8a3ffc", "v"),
}
LOOK, ASIDE = "#d95f02", "#b2182b"
MAX_LABELS = 60


def draw_check_map(layers: Layers, path: str | Path, title: str) -> Path:
    """Draw everything that was read, and mark what was repaired, needs a look, or was set aside.

    Parameters
    ----------
    path
        PNG file to write.
    title
        The study's name.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    OutputError
        If it cannot be written, or another file than such a map is there.
    """
    _refuse_other_file(Path(path))
    west, south, east, north = _frame_of(layers)
    tall = min(1.6, max(0.5, (north - south) / (east - west)))
    figure = Figure(figsize=(10.0, 10.0 * tall * 0.82 + 1.6), layout="constrained")
    axes = figure.add_subplot()
    _ground(axes, layers)
    marked, off = _trouble(axes, layers)
    lost = f", {off} set aside without a place on this map" if off else ""
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_aspect("equal")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_xlabel("")
    axes.set_ylabel("")
    rows = sum(layer.rows_in for layer in layers.vectors.values())
    axes.set_title(
        f"{title}: what was read\n{rows:,} rows, {marked} marked{lost}; north is up",
        loc="left",
        fontsize=11,
        parse_math=False,
    )
    _scale_bar(axes, layers)
    _legend(figure, layers)
    target, image = Path(path), io.BytesIO()
    with mpl.rc_context({"font.family": "DejaVu Sans"}):
        figure.savefig(image, dpi=130, format="png", metadata={"Software": "habitat"})
    contents = {target.name: image.getvalue()}
    return write_whole(target.parent, contents, "the map", "Name a file that can be written")[0]


def _refuse_other_file(target: Path) -> None:
    """Raise an OutputError if something is there that is no map of an earlier check."""
    if not (target.exists() or target.is_symlink()):
        return
    head = b""
    if target.is_file():
        with target.open("rb") as file:
            head = file.read(1000)
    if not (head.startswith(b"\x89PNG") and b"Software\x00habitat" in head):
        raise OutputError(
            "it is there already and no map of a check", str(target), "Name a new file with --map"
        )


def _frame_of(layers: Layers) -> tuple[float, float, float, float]:
    """Return the bounds of yards and anchors with a little ground around them."""
    frames = [f for f in (layers.yards, _shaped(layers, "anchors")) if f is not None]
    box = np.array([f.total_bounds for f in frames])
    west, south = (float(v) for v in box[:, :2].min(axis=0))
    east, north = (float(v) for v in box[:, 2:].max(axis=0))
    margin = max(5.0, 0.06 * max(east - west, north - south))
    return (west - margin, south - margin, east + margin, north + margin)


def _ground(axes: Axes, layers: Layers) -> None:
    for name, colour in GROUND.items():
        frame = _shaped(layers, name)
        if frame is not None:
            edge = "#5c574f" if name in ("yards", "soil_units") else "none"
            frame.plot(ax=axes, facecolor=colour, edgecolor=edge, linewidth=0.5, aspect=None)
    for name, colour in LINES.items():
        frame = _shaped(layers, name)
        if frame is not None:
            frame.plot(ax=axes, color=colour, linewidth=0.8, aspect=None)
    for name, (colour, sign) in POINTS.items():
        frame = _shaped(layers, name)
        if frame is not None:
            axes.scatter(
                frame.geometry.x, frame.geometry.y, s=14, c=colour, marker=sign, linewidths=0, zorder=4
            )


def _shaped(layers: Layers, name: str) -> gpd.GeoDataFrame | None:
    frame = layers.frame(name)
    if frame is None or not isinstance(frame, gpd.GeoDataFrame):
        return None
    frame = frame[frame.geometry.notna() & ~frame.geometry.is_empty]
    return None if frame.empty else frame


def _trouble(axes: Axes, layers: Layers) -> tuple[int, int]:
    """Mark rows worth a look and rows set aside; return how many, and how many have no place here."""
    seen: set[tuple[str, int]] = set()
    labels = aside = 0
    west, south, east, north = _frame_of(layers)
    for name, layer in layers.vectors.items():
        for row, colour, sign, where in _marks(layer):
            if not (west <= where[0] <= east and south <= where[1] <= north):
                continue
            seen.add((name, row))
            aside += colour == ASIDE
            axes.plot(
                *where,
                marker=sign,
                markersize=13,
                markerfacecolor="none",
                markeredgecolor=colour,
                markeredgewidth=2,
                zorder=6,
            )
            if labels < MAX_LABELS:
                axes.annotate(
                    _label(layer, name, row),
                    where,
                    xytext=(8, 8),
                    textcoords="offset points",
                    fontsize=7,
                    color=colour,
                    zorder=7,
                    parse_math=False,
                    clip_on=True,
                    bbox={"boxstyle": "round,pad=0.15", "fc": "white", "ec": "none", "alpha": 0.8},
                )
                labels += 1
    return len(seen), layers.rows_set_aside - aside


def _marks(layer: VectorLayer) -> list[tuple[int, str, str, tuple[float, float]]]:
    out = []
    worth = sorted({n.row for n in layer.notes if n.row is not None and n.harm > 0})
    if isinstance(layer.frame, gpd.GeoDataFrame):
        for row in worth:
            if row in layer.frame.index:
                shape = layer.frame.geometry.loc[row]
                if shape is not None and not shape.is_empty:
                    point = shape.representative_point()
                    out.append((row, LOOK, "o", (point.x, point.y)))
    for record in layer.set_aside.itertuples():
        shape = record.geometry
        if shape is not None and not shape.is_empty and np.isfinite(shape.bounds).all():
            out.append((int(record.row), ASIDE, "X", (shape.centroid.x, shape.centroid.y)))
    return out


def _label(layer: VectorLayer, name: str, row: int) -> str:
    frame: Any = layer.frame
    if name == "yards":
        if row in frame.index:
            return str(frame.loc[row, "yard_id"])
        texts = layer.set_aside.loc[layer.set_aside["row"] == row, "attributes"]
        known = json.loads(texts.iloc[0]).get("yard_id") if len(texts) else None
        if known:
            return str(known)
    return f"{name} row {row + 1}"


def _scale_bar(axes: Axes, layers: Layers) -> None:
    west, south, east, _ = _frame_of(layers)
    width = (east - west) / 5
    power = 10 ** np.floor(np.log10(width))
    length = float(max(s * power for s in (1, 2, 5) if s * power <= width))
    x, y = west + (east - west) * 0.03, south + (east - west) * 0.02
    axes.plot([x, x + length], [y, y], color="black", linewidth=3, solid_capstyle="butt", zorder=8)
    axes.annotate(
        f"{length:g} m",
        (x + length / 2, y),
        xytext=(0, 4),
        textcoords="offset points",
        ha="center",
        fontsize=8,
        zorder=8,
    )


def _legend(figure: Figure, layers: Layers) -> None:
    handles: list[Any] = [
        Patch(facecolor=colour, edgecolor="#5c574f", label=name.replace("_", " "))
        for name, colour in GROUND.items()
        if _shaped(layers, name) is not None
    ]
    handles += [Line2D([], [], color=c, label=n) for n, c in LINES.items() if _shaped(layers, n) is not None]
    handles += [
        Line2D([], [], color=c, marker=s, linestyle="", label=n.replace("_", " "))
        for n, (c, s) in POINTS.items()
        if _shaped(layers, n) is not None
    ]
    handles.append(
        Line2D(
            [],
            [],
            marker="o",
            linestyle="",
            markerfacecolor="none",
            markeredgecolor=LOOK,
            markersize=9,
            label="repaired, or needs a look",
        )
    )
    handles.append(
        Line2D(
            [], [], marker="X", linestyle="", color=ASIDE, label="set aside (where its place is on the map)"
        )
    )
    figure.legend(handles=handles, loc="outside lower left", ncols=4, fontsize=8, frameon=False)

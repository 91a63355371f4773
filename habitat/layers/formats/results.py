"""Layers of a plan.gpkg, which people edit and hand round: read within the bounds of any other file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pyogrio

from habitat.errors import LayerError
from habitat.layers.formats.nesting import too_deep_binary
from habitat.layers.formats.plain import gdal_settings, reading
from habitat.layers.formats.views import refuse_endless_views

SQLITE = b"SQLite format 3\0"
"""How every GeoPackage begins (OGC 12-128, requirement 1)."""

MEND = "Put the file back as the run wrote it, or run the study again"


def read_results(path: Path, layer: str, *, shapes: bool = True) -> Any:
    """Return a layer of a GeoPackage of results, a GeoDataFrame, or a DataFrame without ``shapes``.

    Raises
    ------
    LayerError
        If it is no GeoPackage, has no such layer, or holds what no run writes: views without an end, or
        shapes deep inside each other.
    """
    where = f"{path}, layer {layer}"
    try:
        with path.open("rb") as file:
            head = file.read(len(SQLITE))
    except OSError as error:
        raise LayerError(f"it cannot be read ({error.strerror})", where, MEND) from error
    if head != SQLITE:
        raise LayerError("it cannot be read: it is no GeoPackage, whatever its name says", where, MEND)
    refuse_endless_views(path, where)
    with gdal_settings(), reading(where, mend=MEND):
        if shapes:
            held = pyogrio.read_arrow(path, layer=layer, columns=[])[1]
            deep = any(
                too_deep_binary(v) for c in held.columns for v in c.to_pylist() if isinstance(v, bytes)
            )
            if deep:
                raise LayerError("a shape in it holds shapes too deep inside each other", where, MEND)
        return pyogrio.read_dataframe(path, layer=layer, read_geometry=shapes)

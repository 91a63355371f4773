"""What the codes of a class raster mean: from the study, or from a small table beside it."""

from __future__ import annotations

import math

from habitat.errors import MissingFileError, RasterError
from habitat.layers import csv_table, values
from habitat.study import RasterSource, Study

CODE_NAMES = ("value", "code", "class", "id", "gridcode", "key")


def read_classes(study: Study, name: str, source: RasterSource) -> dict[int, str] | None:
    """Return code -> name, None if the study gives none.

    Raises
    ------
    RasterError, MissingFileError
        If the table is not there, or a code is no whole number.
    """
    if source.classes is None:
        return None
    if isinstance(source.classes, dict):
        return {_code(name, k): v for k, v in source.classes.items()}
    path = study.resolve(source.classes)
    if not path.is_file() or "://" in source.classes or source.classes.startswith("/vsi"):
        raise MissingFileError(
            f"rasters.{name}.classes names {source.classes!r}, which is not there",
            str(study.path),
            "Check the path",
        )
    table = csv_table.read_csv(path, None)[0]
    columns = list(table.columns)
    code = next((c for c in columns if c.lower() in CODE_NAMES), columns[0])
    rest = [c for c in columns if c != code]
    if not rest:
        raise RasterError(
            "a table of classes needs a column of codes and one of names",
            source.classes,
            "Such as value,meaning",
        )
    return {
        _code(name, k): str(v or "")
        for k, v in zip(table[code], table[rest[0]], strict=True)
        if not values.is_missing(k)
    }


def _code(name: str, text: object) -> int:
    found = values.number(str(text), decimal_comma=False)
    if not float(found).is_integer():
        raise RasterError(
            f"rasters.{name}.classes: {text!r} is no whole number",
            "",
            "Codes are the whole numbers in the raster",
        )
    return int(found)


def class_values(classes: dict[int, str] | None) -> dict[int, float] | None:
    """Return code -> number if every class is named by a number (hours, say), else None.

    Examples
    --------
    >>> class_values({1: "2", 2: "4.5"}), class_values({1: "shade"}), class_values(None)
    ({1: 2.0, 2: 4.5}, None, None)
    """
    if not classes:
        return None
    out = {code: values.number(text, decimal_comma=False) for code, text in classes.items()}
    return None if any(math.isnan(v) for v in out.values()) else out

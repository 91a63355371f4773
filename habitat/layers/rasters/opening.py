"""Open rasters and check what they say of themselves: band, place, CRS, scale, kind, nodata."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from pyproj import CRS
from pyproj.exceptions import CRSError
from rasterio.enums import ColorInterp, MaskFlags
from rasterio.transform import Affine

from habitat.errors import CrsError, MissingFileError, RasterError
from habitat.factors import FACTORS
from habitat.layers.cells import values
from habitat.layers.crs import check_area_of_use, crs_label, parse_crs
from habitat.layers.formats import csv_table
from habitat.layers.rasters.file import (
    check_sidecars,
    clean_vrt,
    is_vrt,
    open_raster_file,
    refuse_decimal_commas,
)
from habitat.layers.types import RasterLayer
from habitat.remarks import Note
from habitat.settings.layers import RasterSource, Sources

CODE_NAMES = ("value", "code", "class", "id", "gridcode", "key")


def read_classes(sources: Sources, name: str) -> dict[int, str] | None:
    """Return code -> name of a raster of classes, None if none is stated.

    Raises
    ------
    RasterError, MissingFileError
        If the table is not there, or a code is no whole number.
    """
    source = sources.rasters[name]
    if source.classes is None:
        return None
    if isinstance(source.classes, dict):
        return {_code(name, k): v for k, v in source.classes.items()}
    path = sources.resolve(source.classes)
    if not path.is_file() or "://" in source.classes or source.classes.startswith("/vsi"):
        raise MissingFileError(
            f"rasters.{name}.classes names {source.classes!r}, which is not there",
            sources.named_in,
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


def holds_classes(name: str) -> bool:
    """Return whether a raster of this name holds classes unless the study says otherwise."""
    return name == "landcover" or (name in FACTORS and FACTORS[name].in_steps)


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


# Open rasters and check what they say of themselves: band, place, CRS, scale, kind, nodata.

SURVEY_FOOT = 1200 / 3937
UNITS = {
    **dict.fromkeys(("ft", "foot", "feet"), 0.3048),
    **dict.fromkeys(("us-ft", "ftus", "us survey foot", "us survey feet"), SURVEY_FOOT),
    **dict.fromkeys(("in", "inch", "inches"), 0.0254),
    **dict.fromkeys(("m", "metre", "meter"), 1.0),
    "cm": 0.01,
    "mm": 0.001,
}
"""Metres in the units that rasters declare for their values."""


def open_raster(sources: Sources, name: str) -> RasterLayer:
    """Open a raster and settle how its values are to be read; the values themselves are looked at later.

    Raises
    ------
    RasterError, CrsError
        If it cannot be read, holds several bands and none is stated, has no place or no CRS.
    """
    source = sources.rasters[name]
    path = sources.resolve(source.path)
    if not path.is_file():
        raise RasterError(
            f"rasters.{name}.path is no file", source.path, "Name the raster itself, not its folder"
        )
    check_sidecars(path)
    refuse_decimal_commas(path)
    details: dict[str, Any] = {"vrt": clean_vrt(path) if is_vrt(path) else None}
    with open_raster_file(path, details["vrt"]) as data:
        notes: list[Note] = []
        band = _band(name, source, data, notes)
        crs = _crs(name, source, data, notes)
        transform = _transform(source.path, name, data, crs, notes)
        details |= {"transform": tuple(transform)[:6], "shape": data.shape, "dtype": data.dtypes[band - 1]}
        scale, offset = _scale(name, source, data, band, notes)
        kind = _kind(name, source, data, band, notes)
        nodata = _nodata(source, data, band, notes)
        details["alpha"] = _own_alpha(data, band)
        details["masked"] = source.nodata is None or MaskFlags.nodata not in data.mask_flag_enums[band - 1]
    if told := check_place(name, source.path, crs, transform, details["shape"]):
        notes.append(Note(None, told, 3))
    classes = read_classes(sources, name) if kind == "class" else None
    if kind == "class" and not holds_classes(name) and class_values(classes) is None:
        said = (
            f"it holds classes, not values of {name}: their shares are told, but a plan leaves them unknown"
        )
        notes.append(Note(None, f'{said}; name classes by numbers, such as classes = {{ "1" = "3.5" }}', 2))
    return RasterLayer(
        name=name,
        source=source,
        path=str(path),
        kind=kind,
        source_crs=crs_label(crs),
        cell_m=_cell_m(crs, transform, details["shape"]),
        band=band,
        scale=scale,
        offset=offset,
        nodata=nodata,
        classes=classes,
        notes=tuple(notes),
        details={**details, "crs_wkt": crs.to_wkt()},
    )


def _band(name: str, source: RasterSource, data: Any, notes: list[Note]) -> int:
    alpha = [b for b, c in enumerate(data.colorinterp, 1) if c == ColorInterp.alpha]
    bands = [b for b in range(1, data.count + 1) if b not in alpha]
    listed = ", ".join(f"{b} ({data.descriptions[b - 1] or 'no name'})" for b in bands)
    if source.band is not None:
        if source.band not in bands:
            raise RasterError(
                f"rasters.{name}.band is {source.band}, but the data bands are {listed}",
                source.path,
                "State one of them",
            )
        return source.band
    if len(bands) > 1:
        colours = {ColorInterp.red, ColorInterp.green, ColorInterp.blue} <= set(data.colorinterp)
        picture = "it looks like a picture, not data; or " if colours else ""
        raise RasterError(
            f"raster {name!r} has {len(bands)} bands: {listed}",
            source.path,
            f"{picture}state band under rasters.{name}".capitalize(),
        )
    if not bands:
        raise RasterError(
            "it holds nothing but a transparency band", source.path, "Export it again with its data"
        )
    if data.dtypes[bands[0] - 1].startswith("complex"):
        raise RasterError("it holds complex numbers", source.path, "Export its real part")
    if alpha:
        notes.append(Note(None, "an alpha (transparency) band marks gaps; it is not read as data", 0))
    return bands[0]


def _own_alpha(data: Any, band: int) -> int | None:
    """Return the transparency band if the file's mask leaves it out (it stands in an unusual place)."""
    alpha = [b for b, c in enumerate(data.colorinterp, 1) if c == ColorInterp.alpha]
    return alpha[0] if alpha and MaskFlags.alpha not in data.mask_flag_enums[band - 1] else None


def _crs(name: str, source: RasterSource, data: Any, notes: list[Note]) -> CRS:
    own = None
    if data.crs:
        try:
            own = CRS.from_wkt(data.crs.to_wkt())
        except CRSError:
            own = None
    if own is not None and own.is_compound:
        own = own.sub_crs_list[0]
    if source.crs is not None:
        stated = parse_crs(source.crs, f"rasters.{name}.crs")
        if own is not None and not own.equals(stated, ignore_axis_order=True):
            said = f"the study says {crs_label(stated)}, the file {crs_label(own)}"
            notes.append(Note(None, f"{said}: the study's CRS is used", 1))
        return stated
    if own is None or not (own.is_geographic or own.is_projected):
        raise CrsError(
            f"raster {name!r} has no coordinate reference system (CRS)",
            source.path,
            f'State it as crs = "EPSG:..." under rasters.{name}; who made the file knows it',
        )
    return own


def _transform(where: str, name: str, data: Any, crs: CRS, notes: list[Note]) -> Affine:
    t = data.transform
    if t == Affine.identity() or t.determinant == 0:
        raise RasterError(
            f"raster {name!r} does not say where it lies (no georeference)",
            where,
            "Export it as GeoTIFF again",
        )
    if crs.is_geographic:
        corners = [(t * (c, 0))[0] for c in (0, data.width)]
        if max(corners) > 180.0 + abs(t.a) and min(corners) >= -abs(t.a):
            notes.append(Note(None, "its longitudes count from 0 to 360: 360 is taken off", 0))
            t = Affine.translation(-360.0, 0.0) @ t
    if t.b or t.d:
        notes.append(Note(None, "its grid is rotated against north: it is resampled", 0))
    elif t.e > 0:
        notes.append(Note(None, "its rows run from south to north (south-up): they are turned", 0))
    return t


def _scale(name: str, source: RasterSource, data: Any, band: int, notes: list[Note]) -> tuple[float, float]:
    scale, offset = float(data.scales[band - 1] or 1.0), float(data.offsets[band - 1] or 0.0)
    if not (math.isfinite(scale) and math.isfinite(offset)):
        raise RasterError(
            f"raster {name!r} declares scale {scale} and offset {offset}",
            source.path,
            "State scale and offset",
        )
    if source.scale is not None or source.offset is not None:
        if (scale, offset) != (1.0, 0.0):
            notes.append(
                Note(
                    None, f"the file declares scale {scale:g}, offset {offset:g}; the study's own are used", 1
                )
            )
        scale, offset = (
            source.scale if source.scale is not None else scale,
            source.offset if source.offset is not None else offset,
        )
    elif (scale, offset) != (1.0, 0.0):
        notes.append(Note(None, f"declared scale {scale:g} and offset {offset:g} are applied", 0))
    if scale == 0:
        raise RasterError(f"raster {name!r} has scale 0", source.path, f"State scale under rasters.{name}")
    unit = str(data.units[band - 1] or _vertical_unit(data)).strip().casefold()
    target = {"m": 1.0, "cm": 0.01}.get(name.rsplit("_", 1)[-1])
    if target is not None and unit in UNITS and UNITS[unit] != target and source.scale is None:
        factor = UNITS[unit] / target
        notes.append(Note(None, f"its unit is declared as {unit}: converted ({factor:.6g})", 1))
        scale, offset = scale * factor, offset * factor
    return scale, offset


def _vertical_unit(data: Any) -> str:
    """Return the unit of heights if the file's CRS has a vertical part, else nothing."""
    try:
        crs = CRS.from_wkt(data.crs.to_wkt()) if data.crs else None
    except CRSError:
        return ""
    if crs is None or not crs.is_compound or len(crs.sub_crs_list) < 2:
        return ""
    return str(crs.sub_crs_list[1].axis_info[0].unit_name)


def _kind(name: str, source: RasterSource, data: Any, band: int, notes: list[Note]) -> str:
    palette = data.colorinterp[band - 1] == ColorInterp.palette
    if source.kind is not None:
        return source.kind
    if source.classes is not None or holds_classes(name):
        return "class"
    if palette:
        notes.append(
            Note(
                None,
                "a colour palette goes with its values: they are read as class codes, not as quantities",
                1,
            )
        )
        return "class"
    return "continuous"


def _nodata(source: RasterSource, data: Any, band: int, notes: list[Note]) -> tuple[float, ...]:
    declared = data.nodatavals[band - 1]
    if source.nodata is not None:
        if declared is not None and declared != source.nodata:
            notes.append(
                Note(None, f"the file declares nodata {declared:g}; the study's {source.nodata:g} is used", 1)
            )
        return (float(source.nodata),)
    if declared is None:
        return ()
    kind = np.dtype(data.dtypes[band - 1])
    if kind.kind in "iu" and not (np.iinfo(kind).min <= declared <= np.iinfo(kind).max):
        notes.append(
            Note(None, f"nodata {declared:g} is declared, which {kind} cannot hold: no cell is it", 1)
        )
        return ()
    return () if math.isnan(declared) else (float(declared),)


def check_place(name: str, where: str, crs: CRS, transform: Affine, shape: tuple[int, int]) -> str | None:
    """Refuse a raster whose coordinates cannot be in its CRS; return what to tell if that is doubtful."""
    x, y = (np.array(v) for v in zip(*(transform * c for c in _corners(shape)), strict=True))
    said = f"raster {name!r} says its CRS is {crs_label(crs)}, but its coordinates"
    state = f"State its true crs under rasters.{name}"
    if crs.is_geographic:
        if np.abs(x).max() > 540 or np.abs(y).max() > 91:
            here = f"({x.min():,.1f}, {y.min():,.1f})"
            raise CrsError(
                f"{said} {here} are out of range for longitude and latitude in degrees", where, state
            )
        return None
    if np.abs(x).max() <= 180 and np.abs(y).max() <= 90:
        raise CrsError(
            f"{said} look like longitude and latitude in degrees", where, f"{state}, EPSG:4326 perhaps"
        )
    rows, cols = shape
    if rows * abs(transform.e or transform.d) < 2e6 and cols * abs(transform.a or transform.b) < 2e6:
        return check_area_of_use(crs, np.array([x.mean(), y.mean()]), f"raster {name!r}", where)
    return None


def _corners(shape: tuple[int, int]) -> list[tuple[float, float]]:
    rows, cols = shape
    return [(0, 0), (cols, 0), (cols, rows), (0, rows), (cols / 2, rows / 2)]


def _cell_m(crs: CRS, transform: Affine, shape: tuple[int, int]) -> float:
    """Return the side of a square of one cell's area [m], in the middle of the raster."""
    side = math.sqrt(abs(transform.determinant))
    if crs.is_geographic:
        lat = (transform * (shape[1] / 2, shape[0] / 2))[1]
        return side * 111_195.0 * math.sqrt(max(0.0, math.cos(math.radians(lat))))
    return side * float(crs.axis_info[0].unit_conversion_factor)

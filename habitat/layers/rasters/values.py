"""Which stored values of a raster mean something: ranges, undeclared "no data", scales that nobody stated."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from habitat.errors import RasterError
from habitat.factors import FACTORS

RANGES: dict[str, tuple[float, float]] = {
    **dict.fromkeys(("sand_pct", "silt_pct", "clay_pct"), (0.0, 100.0)),
    **dict.fromkeys(("surface_m", "terrain_m"), (-500.0, 9000.0)),
}
"""What rasters that are no factors themselves can hold: per cents, heights on Earth."""

SENTINELS = (
    -9999.0, -99999.0, -999.0, -99.0, -1.0, 255.0, 65535.0, -32768.0, 32767.0, -128.0, 127.0, 0.0, 9999.0,
    99999.0, 999.0, 254.0, 128.0, -2147483648.0, 4294967295.0,
)  # fmt: skip
"""Values that people store for "no data"."""

HEIGHTS = ("surface_m", "terrain_m")
COLLARS = ("surface_m", "terrain_m", "sand_pct", "silt_pct", "clay_pct", "depth_cm")
SCALES = (
    (0.1, "times ten (x10)"),
    (0.01, "times a hundred (x100)"),
    (0.001, "times a thousand (x1000)"),
    (1 / 60, "in minutes"),
    (10.0, "divided by ten"),
    (100.0, "as a share of 1"),
)


SMALL_UNITS: dict[str, tuple[float, str]] = {
    "sand_pct": (1.0, "shares of 1"),
    "silt_pct": (1.0, "shares of 1"),
    "clay_pct": (1.0, "shares of 1"),
    "depth_cm": (3.0, "metres"),
}
"""Layers whose values could all lie this low only if they were stored in a unit a hundred times larger."""


@dataclass(frozen=True, slots=True)
class Findings:
    """Stored values that mean "no data", bounds [the layer's unit] that cut the rest, and what to tell."""

    nodata: tuple[float, ...] = ()
    low: float = float("-inf")
    high: float = float("inf")
    told: list[tuple[str, int]] = field(default_factory=list)


def possible(name: str) -> tuple[float, float]:
    """Return the least and the greatest value that a raster of this name can hold."""
    return FACTORS[name].possible if name in FACTORS else RANGES.get(name, (float("-inf"), float("inf")))


def in_words(name: str) -> str:
    """Return what a raster of this name holds, in words."""
    return FACTORS[name].words if name in FACTORS else "height" if name in HEIGHTS else name


def look_at_values(
    name: str, stored: NDArray[np.float64], scale: float, offset: float, where: str
) -> Findings:
    """Find what is "no data" without saying so, and refuse values that are out of all range.

    Parameters
    ----------
    name
        Name of the raster in the study.
    stored
        Stored values ``(rows, cols)``, NaN where the file itself says that nothing is known.
    scale, offset
        Real value = stored x scale + offset.

    Raises
    ------
    RasterError
        If most values cannot be what the layer's name says.
    """
    known = np.isfinite(stored)
    low, high = possible(name)
    if not known.any():
        return Findings(
            (),
            low,
            high,
            [("it holds no data (all nodata) where the yards are: everything stays unknown", 3)],
        )
    real = stored * scale + offset
    with np.errstate(invalid="ignore"):
        outside = known & ((real < low) | (real > high))
    nodata, told = _sentinels(name, stored, outside, known, (low, high))
    odd = outside & ~np.isin(stored, nodata)
    good = known & ~outside
    if odd.sum() > good.sum():
        raise RasterError(
            _out_of_range(name, real[odd], (low, high)),
            where,
            _scale_hint(real[odd], (low, high), name, scale),
        )
    if odd.any():
        told.append(
            (
                f"{int(odd.sum())} of {int(known.sum())} cells looked at lie outside the range {low:g} to "
                f"{high:g} of {in_words(name)} ({real[odd].min():g} to {real[odd].max():g}): "
                "unknown",
                2,
            )
        )
    collar = _collar(name, stored, known & ~outside)
    if collar is not None:
        nodata.append(0.0)
        told.append(collar)
    return Findings(tuple(nodata), low, high, told)


def refuse_small_unit(name: str, stored: NDArray[np.float64], nodata: tuple[float, ...], where: str) -> None:
    """Refuse values that fit the range of a layer but are, by their size, in a larger unit.

    Only for layers whose scale neither the file nor the study states; whole numbers are taken as they are.

    Raises
    ------
    RasterError
        If no value is above the limit of SMALL_UNITS and some are no whole numbers.
    """
    if name not in SMALL_UNITS:
        return
    limit, unit = SMALL_UNITS[name]
    values = stored[np.isfinite(stored) & ~np.isin(stored, nodata)]
    if len(values) and 0 < values.max() <= limit and (values != np.round(values)).any():
        ours = "per cent" if name.endswith("_pct") else "centimetres"
        raise RasterError(
            f"raster {name!r} holds values of {values.min():g} to {values.max():g}: these look like {unit}, "
            f"not {ours}",
            where,
            f"State scale = 100 under rasters.{name}, or scale = 1 if the values are right as they are",
        )


def look_at_codes(name: str, codes: NDArray[np.float64], named: bool) -> Findings:
    """Find codes of a class raster that stand for "no data" without saying so.

    Without a table of names a usual code is taken so if it is far above or below all others; texture
    codes run from 1 to 12.
    """
    found = np.unique(codes[np.isfinite(codes)])
    if not len(found):
        return Findings(
            told=[("it holds no data (all nodata) where the yards are: everything stays unknown", 3)]
        )
    if named:
        return Findings()
    low, high = possible(name)
    out = [float(c) for c in found if not low <= c <= high]
    usual = [float(c) for c in found if c in SENTINELS and c not in out and c != 0]
    for code in usual:
        rest = found[~np.isin(found, [code, *out])]
        if len(rest) and np.abs(rest - code).min() > 50:
            out.append(code)
    told = [
        (f"code {c:g} is no class of {name}; no nodata value is declared for it: taken as no data", 2)
        for c in out
    ]
    return Findings(tuple(out), told=told)


def look_for_blends(name: str, codes: NDArray[np.float64], where: str) -> list[tuple[str, int]]:
    """Return what to tell of class codes that are no whole numbers: classes once blended as if quantities.

    Raises
    ------
    RasterError
        If most are none: an average of clay and sand is not the class whose number lies between.
    """
    known = codes[np.isfinite(codes)]
    blended = known[known != np.round(known)]
    if (name in FACTORS and not FACTORS[name].classes) or not len(blended):  # half zones are written 6.5
        return []
    said = f"{len(blended)} of {len(known)} cells hold no class code, such as {blended[0]:g}"
    if len(blended) * 2 > len(known):
        raise RasterError(
            f"raster {name!r} holds classes, but {said}: they were averaged, or it is another quantity",
            where,
            "Export it again without resampling (nearest cell), or name the raster that it is",
        )
    return [(f"{said}: classes were averaged there; such cells are of no use", 2)]


def _sentinels(
    name: str,
    stored: NDArray[np.float64],
    outside: NDArray[np.bool_],
    known: NDArray[np.bool_],
    bounds: tuple[float, float],
) -> tuple[list[float], list[tuple[str, int]]]:
    """Return the impossible values that stand for "no data": a usual one, or the only one."""
    out: list[float] = []
    told: list[tuple[str, int]] = []
    if not outside.any():
        return out, told
    values, counts = np.unique(stored[outside], return_counts=True)
    good = int(known.sum() - outside.sum())
    for value, count in zip(values, counts, strict=True):
        huge = abs(value) > 1e15
        usual = float(value) in SENTINELS
        if huge or (usual and (good > 0 or len(values) == 1)) or (len(values) == 1 and good > count):
            out.append(float(value))
            words = "zero" if value == 0 else f"{value:g}"
            told.append(
                (
                    f"{count} of {int(known.sum())} cells hold {words}, outside the range {bounds[0]:g} "
                    f"to {bounds[1]:g} of {in_words(name)}; no nodata value is declared for it: "
                    "taken as no data",
                    2,
                )
            )
    return out, told


def _out_of_range(name: str, values: NDArray[np.float64], bounds: tuple[float, float]) -> str:
    acid = " (pH runs from 0 to 14)" if name == "ph" else ""
    return (
        f"raster {name!r} holds values of {values.min():g} to {values.max():g}, out of the range "
        f"{bounds[0]:g} to {bounds[1]:g} of {in_words(name)}{acid}"
    )


def _scale_hint(values: NDArray[np.float64], bounds: tuple[float, float], name: str, scale: float) -> str:
    guesses = [
        f"{words} (then state scale = {scale * factor:.6g})"
        for factor, words in sorted(SCALES, key=lambda f: (name == "sun_h") != (f[1] == "in minutes"))
        if ((values * factor >= bounds[0]) & (values * factor <= bounds[1])).mean() > 0.95
    ]
    if guesses:
        return f"It may be stored {', or '.join(guesses[:2])} under rasters.{name}"
    return (
        f"State scale, offset, band or nodata under rasters.{name}, as the maker of the data describes them"
    )


def _collar(name: str, stored: NDArray[np.float64], good: NDArray[np.bool_]) -> tuple[str, int] | None:
    """Find a rim of zeros left by a warp: zeros all hang on the edge, and nothing else comes near 0."""
    if name not in COLLARS or stored.ndim != 2:
        return None
    zero = good & (stored == 0)
    others = stored[good & ~zero]
    if (
        not zero.any()
        or not len(others)
        or others.min() <= 0.25 * (others.max() - others.min())
        or others.min() <= 0
    ):
        return None
    labels, count = ndimage.label(zero)
    rim = set(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])) - {0}
    if len(rim) < count:
        return None
    return (
        f"{int(zero.sum())} cells along the edge hold zero while nothing else is below {others.min():g}: "
        "taken as no data (a collar that an earlier reprojection left)",
        2,
    )

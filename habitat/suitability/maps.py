"""How wrong a map may be: what is stated of each raster, and seeded draws of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from habitat.errors import ParameterError, StudyError
from habitat.factors import FACTORS


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalError:
    """A measured factor is off by a normal error with this standard deviation [unit of the factor]."""

    sd: float

    def __post_init__(self) -> None:
        if not (self.sd >= 0 and np.isfinite(self.sd)):
            raise ParameterError("sd", self.sd, "0 or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassError:
    """A mapped class may truly be another: ``chance`` (k, k), row = mapped class, column = true class."""

    chance: NDArray[np.float64]

    def __post_init__(self) -> None:
        square = self.chance.ndim == 2 and self.chance.shape[0] == self.chance.shape[1]
        if not square or (self.chance < 0).any() or not np.allclose(self.chance.sum(axis=1), 1.0):
            raise ParameterError("chance", self.chance.shape, "a square table of chances whose rows sum to 1")


MapError = NormalError | ClassError

TAKEN_AS_EXACT = {
    "sand_pct": "soil texture and the water in the soil",
    "silt_pct": "soil texture and the water in the soil",
    "clay_pct": "soil texture and the water in the soil",
    "depth_cm": "the water in the soil (the depth itself is drawn)",
    "texture": "the water in the soil (the texture itself is drawn)",
    "surface_m": "sun hours",
    "terrain_m": "sun hours and steep ground",
}
"""What is worked out from a raster without its stated error."""


def map_errors(
    stated: Mapping[str, float | Mapping[str, float] | None], named_in: str = ""
) -> dict[str, MapError]:
    """Return the errors that maps state, by factor.

    Parameters
    ----------
    stated
        Raster -> what is stated of it: a standard deviation; for classes the chance that the mapped one is
        wrong, or a table of the chances that a class is right, by its name or number; None for nothing. What
        is left goes to the neighbouring classes (drainage) or evenly to all others (texture):
        ``Factor.mistaken_for``. Rasters that are no factors are passed over; see ``not_carried``.
    named_in
        The file that states it, for messages.

    Raises
    ------
    StudyError
        If an error cannot be understood.

    Examples
    --------
    >>> map_errors({"ph": 0.4, "surface_m": 1.0})
    {'ph': NormalError(sd=0.4)}
    """
    out: dict[str, MapError] = {}
    for name, given in stated.items():
        if given is None or name not in FACTORS:
            continue
        if not FACTORS[name].classes and isinstance(given, (int, float)) and given >= 0:
            out[name] = NormalError(sd=float(given))
        elif FACTORS[name].classes and isinstance(given, (int, float, Mapping)):
            out[name] = class_error(name, given, named_in)
        else:
            raise StudyError(
                f"rasters.{name}.error is {given!r}",
                named_in,
                "Give a standard deviation, or for classes the chance of a wrong one or a table of chances",
            )
    return out


def not_carried(stated: Mapping[str, object]) -> tuple[str, ...]:
    """Return in words which stated errors of rasters no chance or confidence knows of."""
    told = []
    for name in sorted(stated):
        if stated[name] is None or (name in FACTORS and name not in TAKEN_AS_EXACT):
            continue
        what = TAKEN_AS_EXACT.get(name)
        counts = (
            f"{what} worked out from it count as exact" if what else "nothing that fit uses depends on it"
        )
        told.append(f"The error that raster {name} states is not carried on: {counts}.")
    return tuple(told)


def class_error(factor: str, given: float | Mapping[str, float], where: str = "") -> ClassError:
    """Return the confusion of a class factor from the chance of a wrong one, or chances of right ones.

    Examples
    --------
    >>> class_error("drainage", 0.25).chance[0, :3].tolist()
    [0.75, 0.25, 0.0]
    """
    names = FACTORS[factor].classes
    count = len(names)
    right = np.full(count, 1.0)
    if isinstance(given, Mapping):
        for name, chance in given.items():
            right[_class_position(str(name), names, factor, where)] = chance
    else:
        right[:] = 1.0 - given
    if ((right < 0) | (right > 1)).any():
        raise StudyError(f"rasters.{factor}.error is {given!r}", where, "Chances lie between 0 and 1")
    near = np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    others = (near == 1 if FACTORS[factor].mistaken_for == "neighbours" else near > 0).astype(float)
    table = others / others.sum(axis=1, keepdims=True) * (1.0 - right)[:, None]
    return ClassError(chance=table + np.diag(right))


def _class_position(name: str, names: tuple[str, ...], factor: str, where: str) -> int:
    plain = " ".join(name.lower().split())
    for spelled in (plain, f"{plain} drained"):
        if spelled in names:
            return names.index(spelled)
    if plain.isdigit() and 1 <= int(plain) <= len(names):
        return int(plain) - 1
    raise StudyError(f"rasters.{factor}.error names {name!r}", where, f"Classes: {', '.join(names)}")


@dataclass(frozen=True, slots=True)
class ErrorDraws:
    """Draws of the errors of some factors, for the compiled pass.

    ``shift`` (draws, factors) is what is added to a measured factor; ``luck`` (draws, factors) in [0, 1)
    picks the true class of a class factor from ``edges`` (factors, k, k), the running sums of its chances,
    where ``classes`` (factors,) is how many classes it has (0: measured).
    """

    shift: NDArray[np.float64]
    luck: NDArray[np.float64]
    edges: NDArray[np.float64]
    classes: NDArray[np.int64]


def draw_errors(
    errors: dict[str, MapError], factors: tuple[str, ...], draws: int, rng: np.random.Generator
) -> ErrorDraws:
    """Return draws of the errors of factors; those without an error are exact."""
    most = max(len(f.classes) for f in FACTORS.values())
    shift, luck = np.zeros((2, draws, len(factors)))
    edges = np.ones((len(factors), most, most))
    classes = np.zeros(len(factors), np.int64)
    for f, name in enumerate(factors):
        error = errors.get(name)
        if isinstance(error, NormalError):
            shift[:, f] = rng.normal(0.0, error.sd, draws)
        elif error is not None:
            count = len(error.chance)
            luck[:, f], classes[f] = rng.random(draws), count
            edges[f, :count, :count] = np.cumsum(error.chance, axis=1)
            edges[f, :count, count - 1] = 1.0
    return ErrorDraws(shift, luck, edges, classes)

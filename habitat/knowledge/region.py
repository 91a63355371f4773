"""A region: a folder with region.toml and its tables; which there are, what each says, and where it lies."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import shapely

from habitat.errors import KnowledgeError, MissingFileError

SHIPPED = Path(str(files("habitat.knowledge")))
REGION_FILE = "region.toml"
SEASON = (4, 10)
"""First and last month with leaves and flowers where a region states none: common practice."""

WINTER_REST = (11, 12, 1, 2, 3)
"""Months in which no caterpillar eats where a region states none: common practice."""


@dataclass(frozen=True, slots=True)
class Region:
    """What ``region.toml`` says of a region.

    ``id`` is the value of the column region, ``name`` its name in sentences. ``season_months`` are the first
    and last month with leaves and flowers, ``winter_rest_months`` those in which no caterpillar eats (1-12).
    ``widespread`` are the butterflies that are planned for "if they live near you" where nobody named one.
    ``outline`` is a polygon of longitude and latitude [degrees, WGS 84], None where nobody drew one.
    ``folder`` holds the tables, None for a region that only a study's own tables make.
    """

    id: str
    name: str
    natural_regions: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    season_months: tuple[int, int] = SEASON
    winter_rest_months: tuple[int, ...] = WINTER_REST
    widespread: tuple[str, ...] = ()
    outline: shapely.Polygon | None = None
    poison_help: str = ""
    poison_help_animals: str = ""
    locating: str = ""
    locating_business_days: dict[str, int] = field(default_factory=dict)
    folder: Path | None = None

    def holds(self, longitude: float, latitude: float) -> bool:
        """Return whether a place [degrees, WGS 84] lies in the outline; False where there is none."""
        return self.outline is not None and bool(self.outline.intersects(shapely.Point(longitude, latitude)))


@cache
def shipped_regions() -> Mapping[str, Region]:
    """Return the regions that come with the package, by id."""
    folders = sorted(path.parent for path in (SHIPPED / "regions").glob(f"*/{REGION_FILE}"))
    found = [read_region(folder) for folder in folders]
    return {region.id: region for region in found}


def find_region(name: str | None, folder: Path | None = None) -> Region:
    """Return the region of an own folder, else a shipped one, else one that has nothing but its id.

    Parameters
    ----------
    name
        Id of a region, None for the first that is shipped; passed over where there is a folder.
    folder
        Own folder with ``region.toml``.
    """
    if folder is not None:
        return read_region(folder)
    if name is None:
        return next(iter(shipped_regions().values()))
    return shipped_regions().get(name, Region(name, name))


def read_region(folder: Path) -> Region:
    """Read ``region.toml`` of a folder.

    Raises
    ------
    MissingFileError
        If it is not there.
    KnowledgeError
        With every key that is missing or wrong.

    Examples
    --------
    >>> region = shipped_regions()["south-central"]
    >>> region.states, region.holds(-98.3, 30.2), region.holds(-112.0, 33.5)
    (('TX', 'OK'), True, False)
    """
    path = folder / REGION_FILE
    if not path.is_file():
        raise MissingFileError(
            "there is no such file", str(path), "A region's folder needs it; see habitat new"
        )
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise KnowledgeError([f"{REGION_FILE}: {error}"]) from error
    faults = _faults(given)
    if faults:
        raise KnowledgeError([f"{path.name}, {fault}" for fault in faults])
    return _region(given, folder)


def _region(given: dict[str, Any], folder: Path) -> Region:
    outline = given.get("bounds", {}).get("outline")
    help_words, locating = given.get("poison_help", {}), given.get("locating", {})
    first, last = given.get("season_months", SEASON)
    return Region(
        id=given["id"],
        name=given["name"],
        natural_regions=tuple(given.get("natural_regions", ())),
        states=tuple(given.get("states", ())),
        season_months=(first, last),
        winter_rest_months=tuple(given.get("winter_rest_months", WINTER_REST)),
        widespread=tuple(given.get("widespread", ())),
        outline=shapely.Polygon(outline) if outline else None,
        poison_help=help_words.get("words", ""),
        poison_help_animals=help_words.get("words_animals", ""),
        locating=locating.get("words", ""),
        locating_business_days=dict(locating.get("business_days", {})),
        folder=folder,
    )


def _faults(given: dict[str, Any]) -> list[str]:
    """Return a sentence per key of region.toml that is missing or of the wrong kind."""
    faults = [f"{key}: must be text" for key in ("id", "name") if not _is_text(given.get(key))]
    for key in ("natural_regions", "states", "widespread"):
        if not _all(given.get(key, []), _is_text):
            faults.append(f"{key}: must be a list of text")
    for key in ("season_months", "winter_rest_months"):
        if not _all(given.get(key, []), _is_month) or (
            key == "season_months" and len(given.get(key, SEASON)) != 2
        ):
            faults.append(f"{key}: must be months, 1 to 12{', two of them' * (key == 'season_months')}")
    parts = [given.get(part, {}) for part in ("bounds", "poison_help", "locating")]
    if not all(isinstance(part, dict) for part in parts):
        return [*faults, "bounds, poison_help, locating: must be tables, as [bounds]"]
    outline = parts[0].get("outline", [])
    if not (_all(outline, _is_place) and (not outline or _is_simple(outline))):
        faults.append(
            "bounds.outline: must be [longitude, latitude] of three or more corners, in order around"
        )
    return faults


def _all(values: Any, rule: Any) -> bool:
    return isinstance(values, list) and all(rule(value) for value in values)


def _is_text(value: Any) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _is_month(value: Any) -> bool:
    return type(value) is int and 1 <= value <= 12


def _is_place(value: Any) -> bool:
    numbers = isinstance(value, list) and len(value) == 2 and all(type(v) in (int, float) for v in value)
    return numbers and abs(value[0]) <= 180 and abs(value[1]) <= 90


def _is_simple(outline: list[list[float]]) -> bool:
    return len(outline) >= 3 and bool(shapely.Polygon(outline).is_valid)

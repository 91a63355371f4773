"""Where a bed lies, from a latitude and longitude or the name of a state, and whose tables serve it."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from habitat.errors import ParameterError
from habitat.factors.classes import plain
from habitat.knowledge.place import state_outlines, states_at
from habitat.knowledge.region import Region, shipped_regions

PLACE_HELP = "latitude and longitude such as 39.9,-82.9, or a state such as Ohio or OH"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place and the region whose tables serve it.

    latitude_deg, longitude_deg : degrees north and east, WGS 84. region : id. state : two-letter code, "" if
    none is known. told : how it was understood, in words.
    """

    latitude_deg: float
    longitude_deg: float
    region: str
    state: str
    told: str


def find_place(said: str) -> Place:
    """Return a place from words.

    Parameters
    ----------
    said
        "LAT,LON" in degrees, or a state by name or two letters.

    Raises
    ------
    ParameterError
        If it cannot be understood, or lies outside of every region that there are tables for.

    Examples
    --------
    >>> place = find_place("39.96, -82.99")
    >>> place.state, place.region
    ('OH', 'ohio-valley-mid-atlantic')
    >>> find_place("Oklahoma").region
    'south-central'
    """
    numbers = re.fullmatch(
        r"\s*([-+−]?\d+(?:\.\d+)?)\s*°?\s*[,; ]\s*([-+−]?\d+(?:\.\d+)?)\s*°?\s*", str(said)
    )
    if numbers:
        latitude, longitude = (float(part.replace("−", "-")) for part in numbers.groups())
        return _at(latitude, longitude, said)
    return _of_state(said)


def _at(latitude: float, longitude: float, said: str) -> Place:
    if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0):
        raise ParameterError("place", said, f"degrees north first, then degrees east: {PLACE_HELP}")
    region = _region_at(longitude, latitude)
    if region is None:
        turned = _region_at(-abs(longitude), abs(latitude)) or _region_at(-abs(latitude), abs(longitude))
        hint = "; is a minus sign missing, or are the two the wrong way round?" if turned else ""
        raise _outside(said, hint)
    state = "".join(states_at((longitude, latitude)))
    told = f"{latitude:.2f}, {longitude:.2f}" + (f" in {state_outlines()[state][0]}" if state else "")
    return Place(latitude_deg=latitude, longitude_deg=longitude, region=region.id, state=state, told=told)


def _of_state(said: str) -> Place:
    words = plain(said)
    names = {plain(name): code for code, (name, _) in state_outlines().items()}
    code = words.upper() if words.upper() in state_outlines() else names.get(words, "")
    if not code:
        close = difflib.get_close_matches(words, list(names), n=1, cutoff=0.7)
        hint = f"; did you mean {state_outlines()[names[close[0]]][0]}?" if close else ""
        raise ParameterError("place", said, f"{PLACE_HELP}{hint}")
    name, outline = state_outlines()[code]
    shared = [
        (outline.intersection(region.outline), region)
        for region in shipped_regions().values()
        if region.outline is not None and region.outline.intersects(outline)
    ]
    if code not in {state for _, region in shared for state in region.states} or not shared:
        raise _outside(said, "")
    part, region = max(shared, key=lambda pair: (code in pair[1].states, pair[0].area))
    middle = outline.centroid if part.contains(outline.centroid) else _inner(part)
    where = "the middle of" if part.contains(outline.centroid) else "the part with tables of"
    told = f"{where} {name}, about {middle.y:.1f}, {middle.x:.1f}"
    return Place(latitude_deg=middle.y, longitude_deg=middle.x, region=region.id, state=code, told=told)


def _inner(part: BaseGeometry) -> shapely.Point:
    """Return a point in the middle of the largest piece of a shape."""
    largest = max(shapely.get_parts(part), key=lambda piece: piece.area)
    middle: shapely.Point = largest.centroid
    return middle if largest.contains(middle) else largest.representative_point()


def _outside(said: str, hint: str) -> ParameterError:
    names = " and ".join(region.name for region in shipped_regions().values() if region.outline is not None)
    return ParameterError(
        "place",
        said,
        f"inside a region that there are tables for ({names}){hint}. Elsewhere plants could be foreign: "
        "make tables of the place (habitat new writes blank ones), or ask a native plant society there",
    )


def _region_at(longitude: float, latitude: float) -> Region | None:
    return next((r for r in shipped_regions().values() if r.holds(longitude, latitude)), None)

"""The one table of setbacks: how far plants of each growth form stay from what is there, and why.

Every distance can be changed in the study file under ``[site.setbacks]`` as ``"<what>.<growth form>" =
metres``; ``all`` stands for every thing or every form (``"all.all" = 0``), and the more particular key wins.
Local codes and the owners of lines come before any number here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from habitat.errors import ParameterError

FORMS = ("herb", "shrub", "tree")
"""Growth forms, in the order of a setback's distances."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setback:
    """How far plants stay from one kind of thing.

    what : its key. reason : words for maps and ``habitat why``. distances_m : from its edge, by growth form
    in the order of FORMS [m]. source : where the numbers come from. caution : what people must mind there, ""
    for nothing. layer : name of the layer that shows such things, "" if something else tells of them. closed
    : whether the thing itself is closed ground (a wire hangs above it, a field lies below).
    """

    what: str
    reason: str
    distances_m: tuple[float, float, float]
    source: str
    caution: str = ""
    layer: str = ""
    closed: bool = True

    def distance_m(self, form: str) -> float:
        """Return the distance for a growth form [m]."""
        return self.distances_m[FORMS.index(form)]


DEFAULTS = (
    Setback(
        what="building",
        layer="buildings",
        reason="wall of a building",
        distances_m=(0.3, 1.0, 6.0),
        source="common practice; tree_foundation_offset in the practice table for large trees",
    ),
    Setback(
        what="paving",
        layer="paving",
        reason="edge of paving",
        distances_m=(0.15, 0.6, 1.5),
        source="common practice",
    ),
    Setback(
        what="water",
        layer="water",
        reason="edge of water",
        distances_m=(0.0, 0.0, 1.0),
        source="common practice",
        caution="Work near water may need a permit, and no pesticide or fertiliser belongs there.",
    ),
    Setback(
        what="trunk",
        layer="trees",
        reason="trunk and root flare of a tree",
        distances_m=(0.5, 1.5, 3.0),
        source="common practice: roots near the trunk are not dug",
        caution="Under trees use small plants and small holes; never cut a root thicker than a thumb.",
    ),
    Setback(
        what="plant",
        layer="plants",
        reason="root space of a plant that grows there",
        distances_m=(0.15, 0.6, 2.0),
        source="common practice; from the edge of its crown, or of a 0.3 m clump where none is given",
    ),
    Setback(
        what="fence",
        layer="fences",
        reason="fence",
        distances_m=(0.15, 0.6, 2.0),
        source="common practice",
    ),
    Setback(
        what="boundary",
        reason="edge of the yard",
        distances_m=(0.3, 1.0, 3.0),
        source="common practice: half the mature spread (shrub_wall_offset), a walking strip for herbs",
        caution=(
            "Plant nothing across a boundary without the neighbour's word; local codes may ask for more room."
        ),
    ),
    Setback(
        what="wires",
        layer="wires",
        reason="overhead wires",
        distances_m=(0.0, 0.0, 6.0),
        source="tree_wire_offset_small in the practice table (trees under 7.5 m); common practice",
        caution=(
            "No ladder, pole or pruning near wires: call the line's owner. Trees over 12 m stay 15 m away."
        ),
        closed=False,
    ),
    Setback(
        what="buried",
        layer="buried",
        reason="buried line",
        distances_m=(0.6, 1.0, 3.0),
        source=(
            "locate_handdig in the practice table for herbs (hand digging only); common practice for the rest"
        ),
        caution=(
            "Have buried lines located and marked before any digging (call the free utility locating "
            "service), and dig by hand near marks; state rules differ."
        ),
    ),
    Setback(
        what="septic",
        layer="septic",
        reason="septic field",
        distances_m=(0.0, 3.0, 6.0),
        source="common practice; thirsty trees such as willows 15 m (tree_sewer_offset_thirsty)",
        caution=(
            "Over a septic field only shallow-rooted herbs; no digging deeper than a trowel, no vehicles."
        ),
        closed=False,
    ),
    Setback(
        what="downspout",
        layer="downspouts",
        reason="outlet of a downspout",
        distances_m=(0.6, 1.0, 3.0),
        source="judgement: room for the splash and to lead the water on",
        caution=(
            "Roof water comes out here: lead it 3 m (10 ft) or more from the house before it soaks in, and "
            "never onto a septic field or a neighbour's ground."
        ),
    ),
    Setback(
        what="busy_road",
        layer="streets",
        reason="edge of a busy road",
        distances_m=(1.0, 2.0, 3.0),
        source="common practice: salt, spray and the road keeper's strip",
        caution="Work at a busy road's edge only with the road keeper's leave.",
    ),
    Setback(
        what="street",
        layer="streets",
        reason="edge of a street",
        distances_m=(0.5, 1.0, 2.0),
        source="common practice",
    ),
    Setback(
        what="lawn",
        layer="lawn",
        reason="lawn to keep",
        distances_m=(0.0, 0.6, 2.0),
        source="common practice: half the mature spread of shrubs, so that a mower passes",
    ),
    Setback(
        what="told",
        layer="told",
        reason="ground kept free, as the household told",
        distances_m=(0.15, 0.6, 1.5),
        source="common practice; as for paving",
    ),
    Setback(
        what="keep",
        layer="keep",
        reason="bed or plant to leave as it is",
        distances_m=(0.15, 0.6, 2.0),
        source="common practice",
    ),
)
"""Every default distance, with its source."""

SURROUNDINGS = tuple(dict.fromkeys(setback.layer for setback in DEFAULTS if setback.layer))
"""Names of the layers that setbacks are measured in."""

STEEP = Setback(
    what="steep",
    reason="steep ground",
    distances_m=(0.0, 0.0, 0.0),
    source="judgement: site.steep_deg",
    caution="Steep ground washes out when it is dug; leave its cover, or take advice on holding it.",
)
"""Ground steeper than the study allows; closed itself, without a setback."""

SEPTIC_SOMEWHERE = Setback(
    what="septic_somewhere",
    reason="septic field somewhere in this yard",
    distances_m=(0.0, 0.0, 0.0),
    source="common practice",
    caution="Find and mark the septic field first; until then only herbs are planned here.",
)
"""A yard whose septic field nobody drew: all of it is closed to woody plants."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A length or height that limits what grows somewhere without closing the ground."""

    key: str
    metres: float
    meaning: str
    source: str


LIMITS = (
    Limit(
        key="sight_leg",
        metres=7.6,
        meaning="legs of the sight triangle at a street corner, along the street edges",
        source="sight_leg in the practice table (25 ft, municipal code)",
    ),
    Limit(
        key="drive_leg",
        metres=3.0,
        meaning="legs of the sight triangles where a drive meets a street",
        source="sight_leg_driveway in the practice table (10 ft, municipal codes)",
    ),
    Limit(
        key="sight_height",
        metres=0.76,
        meaning="highest plant in a sight triangle",
        source="sight_height in the practice table (30 in, municipal codes)",
    ),
    Limit(
        key="wire_reach",
        metres=15.0,
        meaning="around wires, trees stay small",
        source="tree_wire_offset_large in the practice table; common practice",
    ),
    Limit(
        key="wire_height",
        metres=7.5,
        meaning="highest plant around wires",
        source="tree_wire_offset_small in the practice table; common practice",
    ),
    Limit(
        key="host_road",
        metres=10.0,
        meaning="along busy roads, no caterpillar host stands this near the edge",
        source="judgement: salt, spray, traffic",
    ),
)
"""Limits beside the setbacks; each can be changed as ``"<key>.all" = metres``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LowGround:
    """Ground where plants stay low: key, words, its two keys of LIMITS, and what people must mind there."""

    what: str
    reason: str
    reach: str
    height: str
    caution: str


_SIGHT = "Drivers must see over it: keep plants low, and ask the town, whose code may be stricter."

STREET_CORNER = LowGround(
    what="street_corner",
    reason="sight triangle at a street corner",
    reach="sight_leg",
    height="sight_height",
    caution=_SIGHT,
)
DRIVE_MOUTH = LowGround(
    what="drive_mouth",
    reason="sight triangle beside a drive",
    reach="drive_leg",
    height="sight_height",
    caution=_SIGHT,
)
UNDER_WIRES = LowGround(
    what="wires",
    reason="overhead wires",
    reach="wire_reach",
    height="wire_height",
    caution="No ladder, pole or pruning near wires: call the line's owner.",
)

SPRAYED = "sprayed yard"
"""Why no caterpillar host stands in a yard that is sprayed."""

BUSY_EDGE = "edge of a busy road"
"""Why no caterpillar host stands within ``host_road`` of a busy road."""


def setbacks(overrides: Mapping[str, float]) -> dict[str, Setback]:
    """Return the table of setbacks by key, with a study's own distances laid over it.

    Parameters
    ----------
    overrides
        "<what>.<growth form>" -> distance [m], with ``all`` for every thing or every form.

    Raises
    ------
    ParameterError
        If a key names nothing in the table, or a distance is negative.

    Examples
    --------
    >>> table = setbacks({"all.tree": 1.0, "wires.tree": 8.0})
    >>> table["fence"].distances_m, table["wires"].distance_m("tree")
    ((0.15, 0.6, 1.0), 8.0)
    """
    _check(overrides)
    return {s.what: _laid_over(s, overrides) for s in DEFAULTS}


def limits(overrides: Mapping[str, float]) -> dict[str, float]:
    """Return the limits [m] by key, with a study's own laid over them.

    Parameters
    ----------
    overrides
        As ``setbacks`` takes them; "<key>.all" changes a limit, "all.all" every length but no height.

    Raises
    ------
    ParameterError
        If a key names nothing in the tables, or a distance is negative.

    Examples
    --------
    >>> limits({"all.all": 0, "sight_height.all": 0.6})["sight_height"]
    0.6
    """
    _check(overrides)
    out = {limit.key: limit.metres for limit in LIMITS}
    if "all.all" in overrides:
        out |= {key: float(overrides["all.all"]) for key in out if not key.endswith("_height")}
    return out | {key: float(overrides[f"{key}.all"]) for key in out if f"{key}.all" in overrides}


def _check(overrides: Mapping[str, float]) -> None:
    """Refuse keys that name nothing, and distances that cannot be."""
    whats, keys = [s.what for s in DEFAULTS], [limit.key for limit in LIMITS]
    for key, value in overrides.items():
        what, _, form = key.partition(".")
        if not (what in keys and form == "all") and not (what in (*whats, "all") and form in (*FORMS, "all")):
            rule = f'"<what>.<form>" with what = all, {", ".join(whats)} and form = all, {", ".join(FORMS)}'
            raise ParameterError("site.setbacks", key, f"{rule}; or {', '.join(f'{k}.all' for k in keys)}")
        if not 0 <= value <= 1000:
            raise ParameterError(f"site.setbacks.{key}", value, "0 to 1000 m")


def _laid_over(setback: Setback, overrides: Mapping[str, float]) -> Setback:
    distances = []
    for form, usual in zip(FORMS, setback.distances_m, strict=True):
        keys = (f"{setback.what}.{form}", f"{setback.what}.all", f"all.{form}", "all.all")
        distances.append(next((float(overrides[k]) for k in keys if k in overrides), usual))
    return replace(setback, distances_m=(distances[0], distances[1], distances[2]))

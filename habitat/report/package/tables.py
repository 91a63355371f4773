"""The tables of plan.gpkg: what each layer and column is, in which unit and type."""

from __future__ import annotations

from dataclasses import dataclass

from habitat.factors import FACTORS

Column = tuple[str, str, str, str]
"""Name, type (text, int, float, bool), unit or "", what it is."""


@dataclass(frozen=True, slots=True)
class Table:
    """A layer: its name, attribute of ``Plan`` it comes from, geometry type ("" = none), title, columns."""

    name: str
    source: str
    geometry: str
    title: str
    columns: tuple[Column, ...]


_YARD: Column = ("yard_id", "text", "", "yard")
_BY_HAND: Column = ("by_hand", "bool", "", "whether somebody changed it by hand; empty if nobody changed any")
_BUTTERFLY: Column = ("butterfly", "text", "", "butterfly, scientific name")
_STATE: Column = (
    "state",
    "text",
    "",
    "today, members (their plans planted) or everyone (members and candidates)",
)

TABLES = (
    Table(
        "yards",
        "yards",
        "MultiPolygon",
        "Yards: what each place offers and what is planned for it; parcel lines are not a survey",
        (
            _YARD,
            ("role", "text", "", "member, candidate or other"),
            ("publish", "bool", "", "whether the household agreed to be shown"),
            ("area_m2", "float", "m2", "area of the parcel"),
            ("open_m2", "float", "m2", "open ground where herbs may be planted; empty if not assessed"),
            ("sun_h_mean", "float", "h", "hours of direct sun per clear day, mean over the yard"),
            ("ph_mean", "float", "pH", "soil reaction in water; empty if unknown"),
            ("drainage_mode", "text", "", "most frequent natural drainage class"),
            ("texture", "text", "", "most frequent USDA texture class"),
            ("known_share", "float", "1", "share of area and assessed factors that is known, 0 to 1"),
            ("hosts", "int", "1", "host species for the butterflies wished for, standing or planned"),
            ("nectar_months", "int", "months", "months of the season with bloom"),
            ("life_cycles_closed", "int", "1", "butterflies that can breed here"),
            ("cost", "float", "money", "cost of the plan in the study's currency (planting.currency)"),
            (
                "status",
                "text",
                "",
                "draft, accepted, ordered, planted, declined, asked, said no or ask again; for the group",
            ),
            ("address", "text", "", "address; for the group alone"),
        ),
    ),
    Table(
        "existing_plants",
        "existing_plants",
        "Point",
        "Plants that grow already",
        (
            ("row", "int", "", "row of the layer it was read from, 0 first"),
            _YARD,
            ("plant", "text", "", "accepted scientific name; empty if the name is in no table"),
            ("name_given", "text", "", "name as it was written down"),
            ("count", "float", "1", "how many"),
            ("crown_m2", "float", "m2", "crown area"),
            ("butterflies", "text", "", "butterflies that breed on it"),
            ("planting_id", "text", "", "planting of an earlier year that it is of; empty for others"),
            ("bed_id", "text", "", "its bed, if a plan set it"),
            ("form", "text", "", "seed, plug, pot or bare root, if a plan set it"),
            ("planted_in", "int", "", "calendar year in which it was planted, if a plan set it"),
            ("seasons", "int", "1", "seasons that it has been in the ground, if a plan set it"),
            ("fit", "float", "1", "fit where it stands, unknown ground at its worst; 1 if not planned with"),
        ),
    ),
    Table(
        "open_ground",
        "open_ground",
        "MultiPolygon",
        "Open ground by growth form: yard less buildings, paving, water, trunks and setbacks",
        (
            _YARD,
            ("growth_form", "text", "", "herb, shrub or tree"),
            ("open_m2", "float", "m2", "area"),
        ),
    ),
    Table(
        "beds",
        "beds",
        "MultiPolygon",
        "Planned beds, a row each",
        (
            ("bed_id", "text", "", "bed"),
            _YARD,
            ("bed_number", "int", "", "number on the yard's sheet"),
            ("growth_form", "text", "", "herb, shrub or tree"),
            ("area_m2", "float", "m2", "area"),
            ("edge_m", "float", "m", "length of the edge"),
            (
                "sun_h_mean",
                "float",
                "h",
                "hours of direct sun per clear day, once the plan's own trees have grown",
            ),
            _BY_HAND,
        ),
    ),
    Table(
        "plantings",
        "plantings",
        "MultiPoint",
        "What to plant: a row per plant and bed; geometry is empty where nothing could be placed",
        (
            ("planting_id", "text", "", "planting"),
            _YARD,
            ("bed_id", "text", "", "bed"),
            ("plant", "text", "", "scientific name"),
            ("common_name", "text", "", "common name"),
            ("purpose", "text", "", "host, nectar, host and nectar, or shelter"),
            ("form", "text", "", "seed, plug, pot or bare root"),
            ("count", "int", "1", "how many"),
            ("spacing_m", "float", "m", "distance between plants, on centre"),
            ("height_m", "float", "m", "mature height"),
            (
                "fit",
                "float",
                "1",
                "fit at its plants, 0 to 1, unknown ground at its worst; blank if not assessed",
            ),
            ("limiting_need", "text", "", "the need that costs most of the fit at its plants"),
            ("butterflies", "text", "", "butterflies that breed on it"),
            ("bloom_months", "text", "", "first and last month of bloom"),
            ("cost", "float", "money", "cost in the study's currency (planting.currency)"),
            ("year", "int", "", "year of the plan in which it is planted, 1 first"),
            ("layer", "text", "", "structure, season or ground: its part in the bed"),
            ("group_size", "int", "1", "most plants of it set together"),
            ("why", "text", "", "why this plant here"),
            _BY_HAND,
            (
                "planted_in",
                "int",
                "",
                "year in which it was planted, if it is in the ground; then it is not bought",
            ),
        ),
    ),
    Table(
        "plant_points",
        "plant_points",
        "Point",
        "Where to dig: a row per plant",
        (
            ("point_id", "text", "", "place"),
            ("planting_id", "text", "", "planting"),
            ("bed_id", "text", "", "bed"),
            _YARD,
            ("plant", "text", "", "scientific name"),
            ("key_number", "int", "", "number of the plant on the yard's sheet"),
            ("crown_m", "float", "m", "mature spread"),
            ("height_m", "float", "m", "mature height"),
            _BY_HAND,
        ),
    ),
    Table(
        "yard_butterflies",
        "yard_butterflies",
        "",
        "What each yard and anchor is worth to each butterfly",
        (
            _YARD,
            ("role", "text", "", "member, candidate, other or anchor"),
            _BUTTERFLY,
            ("common_name", "text", "", "common name"),
            (
                "leaf_m2",
                "float",
                "m2",
                "crowns of its hosts, standing and planned, weighted by fit and preference",
            ),
            ("nectar", "float", "1", "share of its flight months with nectar near, 0 to 1"),
            ("winter", "float", "1", "1 if its winter place is kept or it migrates, else 0"),
            ("habitat_before_m2", "float", "m2", "habitat today"),
            ("habitat_m2", "float", "m2", "habitat with this yard's plan planted"),
            ("missing", "text", "", "what its life cycle lacks here; empty when it closes"),
            ("closes_in_year", "int", "", "plan year from which it closes; 0 today, empty if it does not"),
            (
                "verdict",
                "text",
                "",
                "can breed, will visit (for nectar, or to lay) or not yet",
            ),
            ("broods", "int", "1", "broods a year that the plants feed, in the plan year or from then on"),
            ("carried_by", "text", "", "which plants carry the caterpillars when"),
            ("doubtful_hosts", "text", "", "plants here that may be no hosts; they close nothing"),
            ("held_m2", "float", "m2", "part of the connected area: what it holds itself"),
            ("arriving_m2", "float", "m2", "part of the connected area: what it gives and gets as an end"),
            ("passing_m2", "float", "m2", "part of the connected area: what passes through it"),
        ),
    ),
    Table(
        "links",
        "links",
        "MultiLineString",
        "Ways between breeding grounds, or nectar stops between them, that lie on some best path",
        (
            ("from_yard", "text", "", "yard or anchor"),
            ("to_yard", "text", "", "yard or anchor"),
            _BUTTERFLY,
            ("distance_m", "float", "m", "edge to edge, or by ground if the study says so"),
            ("passage", "float", "1", "probability of passage, 0 to 1"),
            _STATE,
        ),
    ),
    Table(
        "chain",
        "chain",
        "MultiLineString",
        "The best chain of yards between anchors, step by step",
        (
            _BUTTERFLY,
            _STATE,
            ("step", "int", "", "number of the step, 1 first"),
            ("from_yard", "text", "", "yard or anchor"),
            ("to_yard", "text", "", "yard or anchor"),
            ("distance_m", "float", "m", "edge to edge, or by ground if the study says so"),
            ("passage", "float", "1", "probability of passage, 0 to 1"),
            ("passage_low_reach", "float", "1", "the same if butterflies move less far"),
            ("passage_high_reach", "float", "1", "the same if butterflies move farther"),
            ("weakest", "bool", "", "whether this is the weakest step"),
            ("ends", "text", "", "whether breeding is confirmed at both ends, or likely at one"),
        ),
    ),
    Table(
        "invitations",
        "invitations",
        "MultiPolygon",
        "Whom to ask next",
        (
            ("rank", "int", "", "order in which to ask"),
            _YARD,
            ("gain_pct", "float", "%", "what it adds to the joint score, in per cent of this run's plans"),
            ("gain_m2", "float", "m2", "what it adds to the linked breeding ground of all butterflies"),
            (
                "gain_broods",
                "int",
                "1",
                "broods a year that its plan feeds beyond today's; empty if not counted",
            ),
            ("cost", "float", "money", "cost of its plan in the study's currency (planting.currency)"),
            ("plants", "int", "1", "plants of its plan"),
            ("reason", "text", "", "why"),
            ("rank_low_reach", "int", "", "its rank if butterflies move less far"),
            ("rank_high_reach", "int", "", "its rank if butterflies move farther"),
            ("gain_m2_low_reach", "float", "m2", "what it adds if butterflies move less far"),
            ("gain_m2_high_reach", "float", "m2", "what it adds if butterflies move farther"),
            ("kept_share", "float", "1", "share of draws of reach, soil and luck that have it on the list"),
        ),
    ),
    Table(
        "corridor",
        "corridor",
        "",
        "What may be compared between runs: absolute figures by butterfly and state, empty for all together",
        (
            _BUTTERFLY,
            (
                "state",
                "text",
                "",
                "today, members (their plans planted), invited (those to ask too) or everyone (all plans)",
            ),
            ("broods", "int", "1", "broods a year that the plants of yards feed; empty if not counted"),
            ("habitat_m2", "float", "m2", "habitat"),
            ("equivalent_area_m2", "float", "m2", "area of a single place worth as much, with all links"),
            (
                "colonisations",
                "float",
                "1/a",
                "females that come to an empty yard a year, mean over all yards",
            ),
            ("groups", "int", "1", "groups of breeding places; of the butterfly in most pieces"),
            ("capacity_m2", "float", "m2", "square root of the metapopulation capacity"),
        ),
    ),
    Table(
        "set_aside",
        "set_aside",
        "Unknown",
        "Rows that could not be used, and why",
        (
            ("layer", "text", "", "layer of the study"),
            ("row", "int", "", "row in its file, 0 first"),
            ("reason", "text", "", "why"),
            ("attributes", "text", "", "the row as it came, JSON"),
        ),
    ),
    Table(
        "yard_results",
        "yard_results",
        "",
        "What the planting program promised and proved for each yard",
        (
            _YARD,
            ("worth", "float", "1", "worth of the plan in the program's own units"),
            ("bound", "float", "1", "no plan can be worth more"),
            ("gap", "float", "1", "how far the plan may be from the best, as a share"),
            ("cost", "float", "money", "cost in the study's currency (planting.currency)"),
            ("habitat_program_m2", "float", "m2", "habitat as the program counts it"),
            ("relaxed", "text", "", "what was wished for and is not possible"),
        ),
    ),
    Table(
        "invitation_steps",
        "invitation_steps",
        "",
        "Joint score after each further invitation; a column per butterfly holds its own score",
        (
            ("invited", "int", "1", "how many have been invited"),
            _YARD,
            ("connected_m2", "float", "m2", "linked breeding ground, summed over butterflies"),
            (
                "joint_score",
                "float",
                "1",
                "weighted mean of the butterflies' scores, 0 to 1, in this run alone",
            ),
        ),
    ),
    Table(
        "breeding_ground",
        "breeding",
        "MultiPolygon",
        "Host crowns and beds that breed a butterfly: the ends of the links",
        (
            _YARD,
            _BUTTERFLY,
            ("state", "text", "", "before or planned"),
            ("habitat_m2", "float", "m2", "habitat"),
            ("broods", "int", "1", "broods a year that its plants feed"),
        ),
    ),
    Table(
        "nectar_stops",
        "nectar_stops",
        "MultiPolygon",
        "Ground with nectar where a butterfly cannot breed: it may be crossed",
        (
            _YARD,
            ("state", "text", "", "before or planned"),
            ("butterflies", "text", "", "butterflies that drink there and cannot breed there"),
        ),
    ),
    Table(
        "bed_sites",
        "bed_sites",
        "MultiPolygon",
        "Places found for beds, trees and shrubs, before any was chosen; they may overlap",
        (
            _YARD,
            ("site_id", "int", "", "number of the place in its yard"),
            ("growth_form", "text", "", "herb, shrub or tree"),
            ("area_m2", "float", "m2", "area"),
            ("sun_h_mean", "float", "h", "hours of direct sun per clear day"),
            ("height_max_m", "float", "m", "greatest height of plants; empty if any"),
        ),
    ),
)
"""Every layer, in the order of the package."""


# Columns that earlier stages add to tables of plan.gpkg beside those of the contract: what each of them is.


def _of_factors() -> tuple[Column, ...]:
    """Return the columns that the survey adds to yards for each factor."""
    out: list[Column] = []
    for name in FACTORS.in_tables:
        factor = FACTORS[name]
        words = factor.heading
        if not factor.in_steps:
            out.append(
                (f"{name}_mean", "float", factor.unit, f"{words}, mean over the yard; empty if unknown")
            )
        out.append(
            (f"{name}_known", "float", "1", f"share of the yard in which its {words} is known, 0 to 1")
        )
        out.append((f"{name}_source", "text", "", f"where its {words} is from"))
    return tuple(out)


MORE: dict[str, tuple[Column, ...]] = {
    "yards": (
        ("reaction", "text", "", "class of the mean soil reaction"),
        ("drainage_rank", "float", "1", "natural drainage, 1 very poorly to 7 excessively drained"),
        ("zone_mode", "float", "1", "most frequent hardiness zone; empty if unknown"),
    ),
    "chain": (
        ("chain", "int", "", "number of the chain of this butterfly and state, 1 first"),
        ("from_anchor", "text", "", "anchor at which the chain begins"),
        ("to_anchor", "text", "", "anchor at which the chain ends"),
    ),
    "invitations": (("main_butterfly", "text", "", "butterfly that gains most from it"),),
    "invitation_steps": (
        ("connected_m2_low_reach", "float", "m2", "linked breeding ground if butterflies move less far"),
        ("connected_m2_high_reach", "float", "m2", "linked breeding ground if butterflies move farther"),
        ("joint_score_low_reach", "float", "1", "the joint score if butterflies move less far"),
        ("joint_score_high_reach", "float", "1", "the joint score if butterflies move farther"),
    ),
    "yard_results": (("habitat_drawn_m2", "float", "m2", "the same, of the beds as they are drawn"),),
}
"""Columns by table; those that a plan does not have are told nowhere."""


def described(table: str, column: str) -> tuple[str, str]:
    """Return unit and meaning of a column that the contract does not name; "" where nobody says.

    A table of invitations has a column per butterfly, called by its scientific name.
    """
    of_factors = _of_factors() if table == "yards" else ()
    for name, _, unit, what in (*of_factors, *MORE.get(table, ())):
        if name == column:
            return unit, what
    if table == "invitation_steps" and " " in column:
        return "1", f"score of {column}, 0 to 1"
    return "", ""

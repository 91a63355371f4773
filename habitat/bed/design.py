"""Design one bed, pot or box: the facts become a synthetic yard whose open ground is the bed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

import pandas as pd
from pyproj import CRS

from habitat.bed.place import Place, find_place
from habitat.bed.words import BedSize, read_size
from habitat.errors import NotFoundError, ParameterError
from habitat.factors import FACTORS
from habitat.factors.classes import plain
from habitat.factors.said import Understood, read_soil, read_sun, read_wetness
from habitat.knowledge import Knowledge, load_knowledge
from habitat.knowledge.life_cycle import VERDICTS
from habitat.knowledge.place import native_here
from habitat.knowledge.wishes import choose_wishes
from habitat.planting.communities.habits import read_habits
from habitat.planting.communities.rules import LAYERS, STYLES, Style, rules_of
from habitat.planting.plan_yard import plan_yard
from habitat.planting.types import Planting
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.planting import PlantingSettings
from habitat.settings.site import SiteSettings
from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability import compile_needs
from habitat.suitability.types import Needs

MARGIN_M = 2.0
"""Ground round a bed in its synthetic yard: crowns may lean over its edge, nothing else grows there."""

OPEN_PURSE = 100_000.0
"""Money is not asked of a bed: more than any of 100 m2 costs, so that the cost is told and limits nothing."""

POTTING_TEXTURE, POTTING_DRAINAGE, POTTING_DEPTH_CM = 4.0, 5.0, 30.0
"""What a pot or box is taken to hold: 30 cm of potting soil like a loam, well drained (common practice)."""

WISHED_RULES = {"brood_share_max": 0.6, "part_brood": 0.2}
"""Where butterflies are named, one bed is all there is for them: their hosts may take as much of it as any
job sheet lets one kind take (60 %), and some are planted where a whole brood's find no room (judgement)."""

SEED = 7

EVERY = frozenset(("as many as possible", "as many as can be", "as many", "many", "all", "any", "every one"))
"""Wishes for as many kinds of butterflies as possible."""

NONE_NAMED = "none named: widespread butterflies of the region, if they live near you"
EVERY_TOLD = "as many kinds as possible, if they live near you"
"""How wishes that name no butterfly are understood."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BedFacts:
    """What is known of a bed and what is wanted of it, as it was understood.

    factors : factor -> value at the bed, those that are known; others are not assessed. wishes : butterflies,
    scientific names in order. named : whether somebody named them. told : what each answer was taken for,
    by question.
    """

    place: Place
    size: BedSize
    factors: dict[str, float]
    wishes: tuple[str, ...]
    named: bool
    children: bool
    pets: bool
    style: Style
    told: dict[str, str]


@dataclass(frozen=True, slots=True)
class BedPlan:
    """The design of one bed.

    plants : a row per kind: number, plant, common_name, count, layer (structure, season, ground), purpose,
    form, spacing_m, height_m, bloom_months, butterflies, cost. butterflies : a row per butterfly that was
    planned for: butterfly, common_name, verdict (can breed, will visit, not yet), broods (fed in the plan's
    fifth year), from_year (plan year from which the life cycle closes; missing if it does not), missing.
    cost : of all plants, in the currency of the price list. not_assessed : needs that nothing is known about.
    planting : beds, plants and points in metres as ``plan_yard`` returns them.
    """

    facts: BedFacts
    knowledge: Knowledge
    needs: Needs
    settings: PlantingSettings
    planting: Planting
    plants: pd.DataFrame
    butterflies: pd.DataFrame

    @property
    def cost(self) -> float:
        """Price of all plants."""
        return float(self.plants["cost"].sum())

    @property
    def not_assessed(self) -> tuple[str, ...]:
        """Needs of plants that nothing is known about here, in words."""
        return tuple(FACTORS[name].heading for name in FACTORS.in_tables if name not in self.facts.factors)


def design_bed(
    place: str,
    size: str,
    *,
    sun: str | float = "full",
    soil: str = "unknown",
    wetness: str = "medium",
    wishes: str | Iterable[str] = (),
    children: bool = False,
    pets: bool = False,
    style: str = "between",
    knowledge: Knowledge | None = None,
    seed: int = SEED,
) -> BedPlan:
    """Design a bed, pot or balcony box as a community of plants.

    Parameters
    ----------
    place
        "LAT,LON" [degrees, WGS 84] or a state of the United States; its region's tables are used.
    size
        Length and width with their unit, such as "4x2m" or "12x6ft"; or "a pot", "a balcony box".
    sun
        "full", "part", "shade", or hours of direct sun on a clear summer day [0-15].
    soil
        "sand", "loam", "clay", a texture class, or "unknown", which stays not assessed.
    wetness
        "dry", "medium", "wet", or "unknown", which stays not assessed.
    wishes
        Butterflies by any of their names, or "as many as possible"; none: the widespread ones of the region.
    children, pets
        Whether they play there: plants that are to be kept away from them are left out.
    style
        "tidy", "between" or "meadow".
    knowledge
        Tables to use; those of the place's region if left out.
    seed
        Start of the random numbers: equal input and seed, equal plan.

    Returns
    -------
    BedPlan
        What a study of the same facts would plan: a yard whose only open ground is the bed, all of it bed.
        Plants that are not recorded native in the place's state are left out.

    Raises
    ------
    ParameterError
        If a word or number cannot be understood, or no region has tables for the place.
    NotFoundError
        If a butterfly is not in the tables.

    Examples
    --------
    >>> plan = design_bed("Ohio", "4x2m", sun="full", soil="loam", wishes="monarch")
    >>> int((plan.plants["layer"] == "ground").sum()) > 0, plan.butterflies["common_name"].tolist()
    (True, ['monarch'])
    """
    where = find_place(place)
    tables = knowledge or load_knowledge(KnowledgeSettings(region=where.region))
    if not tables.states and where.state:
        tables = replace(tables, states=(where.state,), memo={})
    facts = read_facts_of_bed(
        where, read_size(size), tables, sun=sun, soil=soil, wetness=wetness, wishes=wishes,
        children=children, pets=pets, style=style,
    )  # fmt: skip
    return design(facts, tables, seed)


def read_facts_of_bed(
    place: Place,
    size: BedSize,
    knowledge: Knowledge,
    *,
    sun: str | float,
    soil: str,
    wetness: str,
    wishes: str | Iterable[str],
    children: bool,
    pets: bool,
    style: str,
) -> BedFacts:
    """Return what is known of a bed and wanted of it; parameters as in ``design_bed``."""
    wanted, told_wishes = read_wishes(wishes, knowledge)
    factors, told = _factors(size, read_sun(sun), soil, wetness)
    return BedFacts(
        place=place,
        size=size,
        factors=factors,
        wishes=wanted,
        named=told_wishes not in (NONE_NAMED, EVERY_TOLD),
        children=children,
        pets=pets,
        style=read_style(style),
        told={"place": place.told, **told, "wishes": told_wishes},
    )


def _factors(
    size: BedSize, sun: Understood, soil: str, wetness: str
) -> tuple[dict[str, float], dict[str, str]]:
    """Return the factors that are known at a bed, and how each answer was understood."""
    if size.contained:
        values = {"texture": POTTING_TEXTURE, "drainage": POTTING_DRAINAGE, "depth_cm": POTTING_DEPTH_CM}
        told = f"potting soil, at least {POTTING_DEPTH_CM:.0f} cm (12 in) deep, with holes below"
        return {"sun_h": float(sun.value or 0.0), **values}, {"sun": sun.told, "soil": told}
    texture, drainage = read_soil(soil), read_wetness(wetness)
    known = {"sun_h": sun.value, "drainage": drainage.value, "texture": texture.value}
    values = {name: value for name, value in known.items() if value is not None}
    return values, {"sun": sun.told, "soil": texture.told, "wetness": drainage.told}


def read_style(said: str) -> Style:
    """Return the style that a word means.

    Examples
    --------
    >>> read_style("Meadow"), read_style("in between")
    ('meadow', 'between')
    """
    words = plain(said).removeprefix("in ")
    found = next((style for style in STYLES if style == words), None)
    if found is None:
        raise ParameterError("style", said, "tidy, between or meadow")
    return found


def read_wishes(said: str | Iterable[str], knowledge: Knowledge) -> tuple[tuple[str, ...], str]:
    """Return the butterflies to plan for, scientific names in order, and how the wish was understood.

    Raises
    ------
    NotFoundError
        If a name is not in the tables.
    """
    parts = re.split(r"[,;]|\band\b", said) if isinstance(said, str) else [str(part) for part in said]
    named = [part.strip() for part in parts if part.strip()]
    if not named:
        widespread = tuple(b for b in knowledge.region.widespread if b in knowledge.butterflies.index)
        return widespread, NONE_NAMED
    if any(plain(name) in EVERY for name in named):
        return tuple(knowledge.butterflies.index), EVERY_TOLD
    wishes = choose_wishes(knowledge, named=named)
    for match in wishes.unresolved:
        names = [str(knowledge.butterflies["common_name"].get(s, s)) for s in match.suggestions]
        near = f"; did you mean {' or '.join(names)}?" if names else ""
        raise NotFoundError(
            f"there is no butterfly {match.given!r} in the tables for {knowledge.region.name}{near}",
            "",
            'See habitat butterflies for all of them, or say "as many as possible"',
        )
    return wishes.wished, ", ".join(knowledge.butterflies.loc[list(wishes.wished), "common_name"])


def design(facts: BedFacts, knowledge: Knowledge, seed: int = SEED) -> BedPlan:
    """Design the bed of some facts; see ``design_bed``."""
    native = [plant for plant in knowledge.plants.index if native_here(knowledge, plant) is not False]
    needs = compile_needs(knowledge, SuitabilitySettings(), tuple(facts.factors)).subset(native)
    settings, site = bed_settings(facts)
    bed = facts.size.outline
    yard = bed.buffer(MARGIN_M, join_style="mitre", quad_segs=2)
    planting = plan_yard(
        yard,
        facts.factors,
        knowledge=knowledge,
        needs=needs,
        wishes=facts.wishes,
        surroundings={around_bed(facts): [yard.difference(bed)]},
        household={"yard_id": "bed", "children": facts.children, "pets": facts.pets},
        settings=settings,
        site_settings=site,
        season=knowledge.region.season_months,
        seed=seed,
        crs=bed_crs(facts.place),
        latitude_deg=facts.place.latitude_deg,
    )
    plants = _plants(planting, knowledge, settings)
    return BedPlan(
        facts,
        knowledge,
        needs,
        settings,
        planting,
        plants,
        _butterflies(facts, planting),
    )


def bed_settings(facts: BedFacts) -> tuple[PlantingSettings, SiteSettings]:
    """Return the settings of a study that plans a bed and nothing else: all of its open ground is bed."""
    planting = PlantingSettings(
        bed_share_max=1.0,
        budget=OPEN_PURSE,
        look=facts.style,
        clump_min=1 if facts.size.contained else 3,
        bed_rules=WISHED_RULES if facts.named else {},
    )
    return planting, SiteSettings(setbacks={"paving.herb": 0.0})


def around_bed(facts: BedFacts) -> str:
    """Return the layer of what lies around a bed: ground that children or pets use, or lawn.

    Nobody said how far from the bed they play, so that it is taken to lie beside a walk: plants that must
    stand away from walks are then kept out.
    """
    return "paving" if facts.children or facts.pets else "lawn"


def bed_crs(place: Place) -> CRS:
    """Return a CRS [m] about a bed's place."""
    return CRS.from_proj4(
        f"+proj=tmerc +lat_0={place.latitude_deg} +lon_0={place.longitude_deg} +datum=WGS84 +units=m"
    )


def _plants(planting: Planting, knowledge: Knowledge, settings: PlantingSettings) -> pd.DataFrame:
    """Return the list of plants, numbered as on the drawing."""
    rows = planting.plantings
    whole = rows.groupby("plant")[["count", "cost"]].sum()
    rows = rows.drop_duplicates("plant").drop(columns=["count", "cost"]).join(whole, on="plant")
    keys = planting.plant_points.groupby("plant")["key_number"].first()
    layer = read_habits(knowledge.plants.loc[list(rows["plant"])], rules_of(settings)).layer
    columns = [
        "plant", "common_name", "purpose", "form", "count", "spacing_m", "height_m", "bloom_months",
        "butterflies", "cost",
    ]  # fmt: skip
    table = pd.DataFrame(rows[columns]).assign(
        number=rows["plant"].map(keys), layer=[LAYERS[int(k)] for k in layer]
    )
    return table.sort_values("number").reset_index(drop=True)


def _butterflies(facts: BedFacts, planting: Planting) -> pd.DataFrame:
    """Return what the bed is to each butterfly that was planned for."""
    found = planting.yard_butterflies.set_index("butterfly")
    table = found.loc[list(facts.wishes)].reset_index().rename(columns={"closes_in_year": "from_year"})
    columns = ["butterfly", "common_name", "verdict", "broods", "from_year", "missing"]
    return table[columns].fillna({"broods": 0})


def sorted_butterflies(table: pd.DataFrame) -> pd.DataFrame:
    """Return butterflies by verdict, those that can breed first, then in the order of the wishes."""
    return table.sort_values("verdict", key=lambda v: v.map(VERDICTS.index), kind="stable")

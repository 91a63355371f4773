"""Plants and butterflies as plain arrays, and what counts as bloom, a brood and a winter place."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from habitat.errors import StudyError
from habitat.knowledge import year
from habitat.knowledge.broods import BroodNeed, brood_need
from habitat.knowledge.care import companions_of
from habitat.knowledge.food import worth_by_task
from habitat.knowledge.hazards import hazard_action, keep_away_m, needs_containing
from habitat.knowledge.looks import flower_colors
from habitat.knowledge.months import month_range
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import takes_nectar, winter_place
from habitat.planting.communities.habits import GROUND, Habits, read_habits
from habitat.planting.communities.rules import BedRules
from habitat.planting.sites.supports import check_support_prices, support_prices
from habitat.planting.supply import Offer, choose_offer, price_list
from habitat.planting.years.growth import crown_diameter_m
from habitat.settings.planting import PlantingSettings
from habitat.site.types import GROWTH_FORM
from habitat.suitability.types import Needs

STEM_HEIGHT_M = 0.6
"""A herb at least this tall leaves stems to winter on after cutting back to the usual 0.3 to 0.6 m:
judgement."""


def season_flight(butterfly: str, knowledge: Knowledge, season: tuple[int, int]) -> frozenset[int]:
    """Return the months of the season in which adults of a butterfly fly."""
    row: Any = knowledge.butterflies.loc[butterfly]
    return frozenset(year.flight_months(row)) & frozenset(month_range(*season))


def winter_kept(
    place: str, grown: Iterable[str], knowledge: Knowledge, *, cared_for: bool, tree_stands: bool = False
) -> bool:
    """Return whether a yard keeps a winter place.

    Parameters
    ----------
    place, grown
        As ``habitat.knowledge.year.winter_place`` returns it; plants that stand or are planned in the yard.
    cared_for
        Whether the plan's care holds there (litter and stems are left till spring). Without a plan nothing is
        known of these, so they do not count; hosts and bark stand anyway.
    tree_stands
        Whether a tree stands there, named or not: it has bark and twigs and drops leaves.
    """
    if place in ("away_from_host", "host"):
        return True  # the host itself stands wherever there is habitat at all
    names = list(grown)
    if place == "bark":
        return tree_stands or any(gives_bark(plant, knowledge) for plant in names)
    if not cared_for:
        return False
    if place == "on_stem":
        return tree_stands or any(gives_stems(plant, knowledge) for plant in names)
    return tree_stands or bool(names)


def gives_stems(plant: str, knowledge: Knowledge) -> bool:
    """Return whether a plant leaves stems or twigs that a chrysalis can winter on."""
    row: Any = knowledge.plants.loc[plant]
    return GROWTH_FORM[row["form"]] != "herb" or float(row["height_m"]) >= STEM_HEIGHT_M


def gives_bark(plant: str, knowledge: Knowledge) -> bool:
    """Return whether a plant grows into a trunk with bark to winter in."""
    return GROWTH_FORM[str(knowledge.plants.loc[plant, "form"])] == "tree"


def habitat_m2(leaf_m2: float, fed: float, nectar: float, winter: bool, enough_m2: float) -> float:
    """Return a yard's habitat for a butterfly [m2].

    Parameters
    ----------
    leaf_m2
        Crown area of hosts x fit x preference [m2].
    fed
        Share of one brood's need that the hosts meet: the sum of count / need over them, a secondary host
        by its preference. Habitat is 0 while this is below 1.
    nectar
        Share of the flight months with bloom within reach, 0-1; 1 if it takes no nectar.
    winter
        Whether the winter place is kept, or none is needed.
    enough_m2
        Leaf beyond this adds nothing.

    Examples
    --------
    >>> habitat_m2(30.0, 2.0, 0.5, True, 20.0)
    10.0
    >>> habitat_m2(30.0, 0.9, 0.5, True, 20.0)
    0.0
    """
    if fed < 1.0 - 1e-9 or not winter:
        return 0.0
    return min(leaf_m2, enough_m2) * nectar


# Plants and butterflies as plain arrays: everything the program needs that no yard changes.

WINTER_CODES = {"away_from_host": 0, "host": 0, "leaf_litter": 1, "soil": 1, "on_stem": 2, "bark": 3}
"""Winter places in the program; 0 needs nothing beside the host."""

CHORD_KNOTS = (0.0, 0.5, 1.0, 2.0, 5.0, 20.0)
"""Where the straight pieces meet that stand for how leaf grows with the count of a kind, in clumps."""

DRIFT_EDGE_POWER = 0.6
"""How the edge of a drift grows with its count: between 0.5 (round drifts) and 1 (single rows)."""


@dataclass(frozen=True, slots=True)
class Facts:
    """Plants (P, in the order of ``Needs.plants``) and wished-for butterflies (B) as arrays.

    Months are bit masks, bit m for month m, within the season, shifted for the night (``year.nectar_time``).
    ``meals`` (M, P) are worth of leaf in each set of hosts of which a butterfly needs enough
    (``food.worth_by_task``), those of one butterfly together, its first row in ``first_meal`` (B,);
    ``preference`` (B, P) is the greatest of them; ``clump`` least count in
    one bed; ``need`` plants that feed a brood, ``to_plant`` the same with spares of herbs (a shrub or
    tree that fails is missed and replaced by itself); ``disc_m2`` crown of one plant in the plan year and
    ``inner_m2`` the part of it that no neighbour of its kind covers inside a drift; ``cell_m2`` ground per
    plant at its spacing; ``local`` whether local growers have it; ``assessed`` the factors that are known,
    ``by_tests`` those of them that soil tests alone tell; ``support`` the price of what holds a vine, in its
    offers too. ``first_year`` is, per plant, form -> the season in which it first carries a brood;
    ``too_young`` (B, P) marks hosts that do so only after the plan year and are none here, since others of
    that butterfly do in time. ``children_action`` and ``pets_action`` say what a plant's hazards ask for
    where they live, and ``away_m`` (P,) how far from people it then stands; ``contained_by`` what holds it
    in its place, any one of which will do, () if it stays there by itself; ``companions`` on whose roots it
    lives; ``flower_colors`` those that one sees, none where nobody looks for a flower or none is known.
    """

    plants: tuple[str, ...]
    common: tuple[str, ...]
    growth: tuple[str, ...]
    vine: NDArray[np.bool_]
    support: NDArray[np.float64]
    offers: tuple[Offer, ...]
    elsewhere: tuple[Offer, ...]
    local: NDArray[np.bool_]
    hazards: tuple[frozenset[str], ...]
    flower_colors: tuple[frozenset[str], ...]
    children_action: tuple[str, ...]
    pets_action: tuple[str, ...]
    away_m: NDArray[np.float64]
    contained_by: tuple[tuple[str, ...], ...]
    companions: tuple[frozenset[str], ...]
    height_m: NDArray[np.float64]
    months: NDArray[np.int64]
    nectar_value: NDArray[np.float64]
    eaten: NDArray[np.bool_]
    stems: NDArray[np.bool_]
    bark: NDArray[np.bool_]
    clump: NDArray[np.int64]
    need: NDArray[np.float64]
    to_plant: NDArray[np.float64]
    cell_m2: NDArray[np.float64]
    disc_m2: NDArray[np.float64]
    inner_m2: NDArray[np.float64]
    chord_a: NDArray[np.float64]
    chord_b: NDArray[np.float64]
    width: NDArray[np.float64]
    assessed: tuple[str, ...]
    by_tests: tuple[str, ...]
    butterflies: tuple[str, ...]
    butterfly_common: tuple[str, ...]
    first_year: tuple[dict[str, int], ...]
    meals: NDArray[np.float64]
    first_meal: NDArray[np.int64]
    preference: NDArray[np.float64]
    too_young: NDArray[np.bool_]
    host: NDArray[np.bool_]
    flight: NDArray[np.int64]
    takes_nectar: NDArray[np.bool_]
    winter: NDArray[np.int64]
    season_mask: int

    def meals_of(self, b: int) -> range:
        """Return the rows of ``meals`` of a butterfly."""
        ends = (*self.first_meal[1:], len(self.meals))
        return range(int(self.first_meal[b]), int(ends[b]))

    def leanest(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return, per butterfly (B,), the least of what its meals (M,) have."""
        return np.minimum.reduceat(values, self.first_meal) if len(self.first_meal) else np.zeros(0)

    def assessed_with(self, tested: Iterable[str]) -> set[str]:
        """Return the factors that are assessed in a yard whose soil test tells some of them."""
        return set(self.assessed) - (set(self.by_tests) - set(tested))


def month_bits(months: frozenset[int]) -> int:
    """Return months as a bit mask, bit m for month m.

    Examples
    --------
    >>> bin(month_bits(frozenset({4, 5})))
    '0b110000'
    """
    return sum(1 << m for m in months)


def _offers(
    table: pd.DataFrame,
    habits: Habits,
    settings: PlantingSettings,
    growers: Mapping[str, Offer],
    settings_file: str,
) -> tuple[tuple[Offer, ...], tuple[Offer, ...], NDArray[np.float64]]:
    """Return offers with and without local growers, supports of vines in both, and the supports alone."""
    check_support_prices(settings.support_prices, settings_file)
    heights = table["height_m"].to_numpy(float)
    supports = support_prices(habits.vine, heights, settings.support_prices)
    elsewhere = _elsewhere(table, habits, price_list(settings, settings_file), singly=settings.clump_min == 1)
    offers = [growers.get(str(plant), offer) for plant, offer in zip(table.index, elsewhere, strict=True)]
    return _with_supports(offers, supports), _with_supports(elsewhere, supports), supports


def _with_supports(offers: Sequence[Offer], supports: NDArray[np.float64]) -> tuple[Offer, ...]:
    """Return offers in which a vine costs what holds it too."""
    both = zip(offers, supports, strict=True)
    return tuple(replace(offer, price=offer.price + float(more)) if more else offer for offer, more in both)


def read_facts(
    knowledge: Knowledge,
    needs: Needs,
    wishes: Sequence[str],
    settings: PlantingSettings,
    season: tuple[int, int],
    *,
    growers: Mapping[str, Offer] | None = None,
    settings_file: str = "",
) -> Facts:
    """Return plants and butterflies as arrays.

    Parameters
    ----------
    knowledge, needs
        The tables, and the plants that may be chosen.
    wishes
        Butterflies to plan for, in order of their names in the tables.
    settings
        Prices, hazards, clumps, and the plan year in which crowns are counted.
    season
        First and last month [1-12] in which bloom and flight count.
    growers
        Offers of local growers by plant; others are ordered elsewhere at the list's price.
    settings_file
        Where the settings stand, for errors.

    Raises
    ------
    StudyError
        If ``avoid_hazards`` or ``prices`` names something unknown.
    """
    table = knowledge.plants.loc[list(needs.plants)]
    growth = tuple(GROWTH_FORM[form] for form in table["form"])
    habits = read_habits(table, BedRules())
    offers, elsewhere, supports = _offers(table, habits, settings, growers or {}, settings_file)
    broods = [brood_need(knowledge, plant) for plant in needs.plants]
    meals, first_meal = _meals(knowledge, needs.plants, wishes)
    meals[late := _too_young(meals, broods, offers, elsewhere, settings.year)] = 0.0
    preference, too_young = _by_butterfly(meals, first_meal), _by_butterfly(late, first_meal)
    host = np.asarray((preference > 0).any(axis=0))
    clump = _clumps(growth, host, knowledge, settings.clump_min)
    disc_m2, inner_m2 = _crowns(table["spread_m"], habits.spacing_m, growth, offers, settings.year)
    chord_a, chord_b = _chords(growth, clump, disc_m2, inner_m2)
    names, season_mask = needs.plants, year.day_and_night(month_range(*season))
    return Facts(
        plants=names,
        common=tuple(table["common_name"]),
        growth=growth,
        vine=habits.vine,
        support=supports,
        offers=offers,
        elsewhere=elsewhere,
        local=np.array([plant in (growers or {}) for plant in needs.plants], bool),
        hazards=_hazards(table["hazards"], knowledge, settings.avoid_hazards, settings_file),
        **_grades(knowledge, names),
        height_m=table["height_m"].to_numpy(float),
        months=np.array([mask & season_mask for mask in year.nectar_masks(table)], np.int64),
        nectar_value=table["nectar_value"].to_numpy(float),
        eaten=np.isin(names, sorted(_laid_on(knowledge, wishes))),
        stems=np.array([gives_stems(p, knowledge) for p in names], bool),
        bark=np.array([gives_bark(p, knowledge) for p in names], bool),
        clump=clump,
        need=np.array([need.plants for need in broods], float),
        to_plant=_to_plant(broods, growth),
        cell_m2=habits.ground_m2,
        disc_m2=disc_m2,
        inner_m2=inner_m2,
        chord_a=chord_a,
        chord_b=chord_b,
        width=np.asarray(needs.width, float),
        assessed=needs.assessed,
        by_tests=needs.by_tests,
        first_year=tuple(need.first_year for need in broods),
        meals=meals,
        first_meal=first_meal,
        preference=preference,
        too_young=too_young,
        host=host,
        season_mask=season_mask,
        **_butterflies(knowledge, season, wishes),
    )


def _elsewhere(
    table: pd.DataFrame, habits: Habits, prices: dict[tuple[str, str], float], *, singly: bool
) -> tuple[Offer, ...]:
    """Return how plants are bought where no local grower has them: low forbs as seed, unless ``singly``."""
    sown = (habits.layer == GROUND) & ~habits.graminoid & (not singly)
    rows = zip(table["form"], table["propagation"], sown, strict=True)
    return tuple(
        choose_offer(GROWTH_FORM[form], str(ways), prices, sown=bool(low)) for form, ways, low in rows
    )


def _laid_on(knowledge: Knowledge, wishes: Sequence[str]) -> set[str]:
    """Return the plants that caterpillars of any butterfly or of a wished-for moth eat.

    Moths eat nearly all that grows; were all of them counted, a sprayed yard could have no nectar either.
    """
    kind = knowledge.butterflies["kind"]
    rows = knowledge.host_plants
    counted = rows["butterfly"].map(kind).eq("butterfly") | rows["butterfly"].isin(wishes)
    return set(rows.loc[counted, "plant"])


def _grades(knowledge: Knowledge, names: tuple[str, ...]) -> dict[str, Any]:
    """Return what the facts say of harm, spread, company and colour."""
    colors = knowledge.plants["flower_color"]
    return {
        "flower_colors": tuple(frozenset(flower_colors(colors[p])) for p in names),
        "children_action": tuple(hazard_action(knowledge, p, children=True, pets=False) for p in names),
        "pets_action": tuple(hazard_action(knowledge, p, children=False, pets=True) for p in names),
        "away_m": np.array([keep_away_m(knowledge, p) for p in names], float),
        "contained_by": tuple(needs_containing(knowledge, p) for p in names),
        "companions": tuple(companions_of(knowledge, p) for p in names),
    }


def _to_plant(broods: list[BroodNeed], growth: tuple[str, ...]) -> NDArray[np.float64]:
    """Return how many of each plant to set for a brood (P,): herbs with spares."""
    many = [n.with_spares if g == "herb" else n.plants for n, g in zip(broods, growth, strict=True)]
    return np.array(many, float)


def _butterflies(knowledge: Knowledge, season: tuple[int, int], wishes: Sequence[str]) -> dict[str, Any]:
    """Return what the facts say of butterflies alone."""
    rows: list[Any] = [knowledge.butterflies.loc[b] for b in wishes]
    times = [year.nectar_time(row) for row in rows]
    months = [month_bits(season_flight(b, knowledge, season)) for b in wishes]
    flights = [bits << time for bits, time in zip(months, times, strict=True)]
    return {
        "butterflies": tuple(wishes),
        "butterfly_common": tuple(str(row["common_name"]) for row in rows),
        "flight": np.array(flights, np.int64),
        "takes_nectar": np.array([takes_nectar(row) for row in rows], bool),
        "winter": np.array([WINTER_CODES[winter_place(row)] for row in rows], np.int64),
    }


def _meals(
    knowledge: Knowledge, plants: tuple[str, ...], wishes: Sequence[str]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return worth of leaf (M, P) by set of hosts, and the first row of each butterfly (B,)."""
    sets = [worth_by_task(knowledge, butterfly) or ({},) for butterfly in wishes]
    rows = [[one.get(plant, 0.0) for plant in plants] for mine in sets for one in mine]
    sizes = np.array([len(mine) for mine in sets], np.int64)
    return np.array(rows, float).reshape(-1, len(plants)), np.cumsum(sizes) - sizes


def _by_butterfly(rows: NDArray[Any], first: NDArray[np.int64]) -> NDArray[Any]:
    """Return the greatest of the rows (M, P) of each butterfly (B, P)."""
    return np.maximum.reduceat(rows, first, axis=0) if len(first) else rows


def _too_young(
    meals: NDArray[np.float64],
    broods: list[BroodNeed],
    offers: tuple[Offer, ...],
    elsewhere: tuple[Offer, ...],
    year: int,
) -> NDArray[np.bool_]:
    """Return (M, P) hosts that carry no brood by the plan year, of sets that have others that do.

    A butterfly whose hosts are all too slow keeps them: late is better than never, and the recount says so.
    """
    bought = zip(broods, offers, elsewhere, strict=True)
    soonest = [min(need.first_year[here.form], need.first_year[away.form]) for need, here, away in bought]
    host, slow = meals > 0, np.array(soonest, np.int64) > year
    in_time = np.any(host & ~slow, axis=1, keepdims=True)
    return np.asarray(host & slow & in_time)


def _hazards(
    column: pd.Series, knowledge: Knowledge, avoided: Iterable[str], settings_file: str
) -> tuple[frozenset[str], ...]:
    known = {h for text in knowledge.plants["hazards"] for h in str(text).split(";")} - {"none"}
    for hazard in avoided:
        if hazard not in known:
            raise StudyError(
                f"planting.avoid_hazards names {hazard!r}, which no plant in the tables has",
                settings_file,
                "Known hazards: " + ", ".join(sorted(known)),
            )
    return tuple(frozenset(str(text).split(";")) - {"none"} for text in column)


def _clumps(
    growth: tuple[str, ...], host: NDArray[np.bool_], knowledge: Knowledge, clump_min: int
) -> NDArray[np.int64]:
    least = int(knowledge.practice_value("host_min_herb"))
    herb = np.where(host, max(least, clump_min), clump_min)
    return np.where(np.array(growth) == "herb", herb, 1).astype(np.int64)


def _crowns(
    spread: pd.Series,
    spacing: NDArray[np.float64],
    growth: tuple[str, ...],
    offers: tuple[Offer, ...],
    year: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    discs, inner = [], []
    for wide, apart, form, offer in zip(spread, spacing, growth, offers, strict=True):
        across = crown_diameter_m(float(wide), form, year, 1, offer.form)
        discs.append(math.pi / 4.0 * across**2)
        inner.append(covered_per_plant_m2(across, float(apart)))
    return np.array(discs, float), np.array(inner, float)


def covered_per_plant_m2(crown_m: float, spacing_m: float) -> float:
    """Return the ground [m2] a crown covers in a wide drift on a triangular lattice, overlaps once.

    The part of the disc within its own hexagonal cell: the whole disc while crowns do not touch, the whole
    cell once they close over it.

    Examples
    --------
    >>> round(covered_per_plant_m2(0.5, 0.6), 4), round(covered_per_plant_m2(1.2, 0.6), 4)
    (0.1963, 0.3118)
    """
    radius, half = crown_m / 2.0, spacing_m / 2.0
    if radius <= half:
        return math.pi * radius**2
    if radius >= spacing_m / math.sqrt(3.0):
        return math.sqrt(0.75) * spacing_m**2
    segment = radius**2 * math.acos(half / radius) - half * math.sqrt(radius**2 - half**2)
    return math.pi * radius**2 - 6.0 * segment


def drift_cover_m2(count: int, disc_m2: float, inner_m2: float) -> float:
    """Return the ground [m2] that a drift of ``count`` plants covers, overlaps once.

    A single plant covers its disc; in a wide drift each covers its inner part, and the edge adds a share that
    grows with a power of the count. Within 5 % of the union of discs for drifts of two rows or more.

    Examples
    --------
    >>> round(drift_cover_m2(1, 0.44, 0.31), 2), round(drift_cover_m2(10, 0.44, 0.31), 2)
    (0.44, 3.62)
    """
    if count <= 0:
        return 0.0
    return float(count * inner_m2 + (disc_m2 - inner_m2) * count**DRIFT_EDGE_POWER)


def _chords(
    growth: tuple[str, ...],
    clump: NDArray[np.int64],
    disc_m2: NDArray[np.float64],
    inner_m2: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return straight pieces (P, 5) of the leaf of a kind: drifts gain an edge, woody plants stand alone."""
    pieces = len(CHORD_KNOTS) - 1
    a, b = np.zeros((len(growth), pieces)), np.zeros((len(growth), pieces))
    for p, form in enumerate(growth):
        disc, inner = float(disc_m2[p]), float(inner_m2[p])
        if form != "herb":
            b[p] = inner
            continue
        knots = np.array(CHORD_KNOTS) * float(clump[p])
        leaf = np.array([drift_cover_m2(n, disc, inner) for n in knots])
        b[p] = np.diff(leaf) / np.diff(knots)
        a[p] = leaf[:-1] - b[p] * knots[:-1]
    return a, b

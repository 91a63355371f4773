"""The constants that sums of a plan use, each with its source, so that run.json lets them be recomputed."""

from __future__ import annotations

from typing import Any

from habitat.connectivity.distance.reach import FAT_TAIL_POWER
from habitat.ground.setbacks import LIMITS, limits, setbacks
from habitat.ground.things import CLUMP_M, STREET_WIDTH_M, TRUNK_RADIUS_M
from habitat.knowledge.broods import brood_need
from habitat.knowledge.tables import PREFERENCE
from habitat.planting.choice.facts import STEM_HEIGHT_M
from habitat.planting.communities.choose import QUICK_GAP, QUICK_NODES
from habitat.planting.habitat_area import LARGE_CROWN_M, STONE_RADIUS_M
from habitat.planting.sharing import FREE_YARDS
from habitat.planting.sites.woody import TRUNK_CLEAR_M
from habitat.planting.years.growth import FIRST_SHARE, FULL_SPREAD_YEARS, SEED_DELAY_YEARS
from habitat.report.lists.buying import SINGLES, SPARE_SHARE, TRAY
from habitat.report.lists.work_dates import PREPARING_DAYS
from habitat.report.plan import Plan
from habitat.sun.path import REFERENCE_YEAR, STEP_MINUTES
from habitat.sun.trees import CROWN_BASE_SHARE

JUDGEMENT, PRACTICE, STUDY = "judgement", "common practice", "the study's settings"


def rules_used(plan: Plan) -> dict[str, dict[str, Any]]:
    """Return the rules by which sums were made, by name.

    Returns
    -------
    dict
        name -> value (a number, or numbers by key), unit ("1" for shares and counts, "" for text), source,
        and words: what the number does in which sum.
    """
    return {
        **_ground(plan),
        **_sun(plan),
        **_growth(),
        **_habitat(plan),
        **_corridor(plan),
        **_choice(plan),
        **_buying(),
    }


def _rule(value: Any, unit: str, source: str, words: str) -> dict[str, Any]:
    return {"value": value, "unit": unit, "source": source, "words": words}


def _ground(plan: Plan) -> dict[str, dict[str, Any]]:
    own = plan.study.site.setbacks
    table, lengths = setbacks(own), limits(own)
    away = {
        f"setback.{what}": _rule(
            {form: one.distance_m(form) for form in ("herb", "shrub", "tree")},
            "m",
            STUDY if _changed(what, own) else one.source,
            f"open ground of a growth form keeps this far from: {one.reason}",
        )
        for what, one in table.items()
    }
    low = {
        f"limit.{limit.key}": _rule(
            lengths[limit.key], "m", STUDY if _changed(limit.key, own) else limit.source, limit.meaning
        )
        for limit in LIMITS
    }
    return {
        **away,
        **low,
        "trunk_radius": _rule(TRUNK_RADIUS_M, "m", JUDGEMENT, "radius of a trunk that nobody measured"),
        "clump_width": _rule(CLUMP_M, "m", JUDGEMENT, "width of a plant whose crown nobody measured"),
        "street_width": _rule(STREET_WIDTH_M, "m", JUDGEMENT, "width of a street without width_m"),
    }


def _changed(what: str, own: Any) -> bool:
    return any(key.split(".")[0] in (what, "all") for key in own)


def _sun(plan: Plan) -> dict[str, dict[str, Any]]:
    site = plan.study.site
    return {
        "sun.day": _rule(
            15, "day of month", JUDGEMENT, f"the day of {REFERENCE_YEAR} that stands for a month"
        ),
        "sun.step": _rule(
            STEP_MINUTES, "min", JUDGEMENT, "the sun at the middle of a step stands for all of it"
        ),
        "sun.sky": _rule("clear", "", JUDGEMENT, "direct sun of days without clouds, from sunrise to sunset"),
        "sun.leafless_light": _rule(
            site.leafless_light, "1", STUDY, "share of direct sun that passes a crown without leaves"
        ),
        "sun.crown_base": _rule(
            CROWN_BASE_SHARE, "1", JUDGEMENT, "height of a crown's rim over the tree's height"
        ),
    }


def _growth() -> dict[str, dict[str, Any]]:
    return {
        "growth.full_spread": _rule(
            FULL_SPREAD_YEARS, "seasons", JUDGEMENT, "until the mature spread is reached"
        ),
        "growth.first_share": _rule(
            FIRST_SHARE,
            "1",
            JUDGEMENT,
            "of the mature spread after the first season; straight up to all of it",
        ),
        "growth.seed_delay": _rule(SEED_DELAY_YEARS, "seasons", JUDGEMENT, "that a sown plant is behind"),
    }


def _habitat(plan: Plan) -> dict[str, dict[str, Any]]:
    planting = plan.study.planting
    return {
        "habitat.area": _rule(
            "habitat_m2 = min(leaf_m2, enough_m2) x nectar, or 0 without a brood's hosts or the winter place",
            "",
            JUDGEMENT,
            "leaf_m2: crown area of hosts in the plan year, overlaps once, x fit at the plant x preference",
        ),
        "habitat.enough": _rule(planting.enough_m2, "m2", STUDY, "leaf beyond this adds nothing"),
        "habitat.year": _rule(
            planting.year, "plan year", STUDY, "crowns and broods are those of this year's end"
        ),
        "habitat.preference": _rule(PREFERENCE, "1", JUDGEMENT, "worth of a host's leaf"),
        "habitat.brood": _rule(
            _brood_ages(plan),
            "seasons",
            "knowledge table brood_needs",
            "plants: how many feed a brood (1); by form bought: the season from which a host carries one",
        ),
        "habitat.large_crown": _rule(
            LARGE_CROWN_M,
            "m",
            JUDGEMENT,
            "crowns of a greater radius are breeding ground outside of their bed",
        ),
        "nectar.counts": _rule(
            "nectar_value > 0", "", "knowledge table plants", "plants whose months of bloom count as nectar"
        ),
        "nectar.reach": _rule(
            planting.nectar_reach_m, "m", STUDY, "nectar counts within this distance of the breeding ground"
        ),
        "nectar.stop_radius": _rule(
            STONE_RADIUS_M, "m", JUDGEMENT, "ground that a nectar plant marks as a stop"
        ),
        "winter.stem_height": _rule(
            STEM_HEIGHT_M, "m", JUDGEMENT, "herbs at least this tall leave stems to winter on"
        ),
    }


def _brood_ages(plan: Plan) -> dict[str, dict[str, Any]]:
    """Return, per host of the plan, plants of a brood and the season in which each form first carries one."""
    hosts = set(plan.knowledge.host_plants["plant"])
    planted = sorted(set(plan.plantings["plant"]) & hosts) if len(plan.plantings) else []
    needs = {plant: brood_need(plan.knowledge, plant) for plant in planted}
    return {plant: {"plants": need.plants, **need.first_year} for plant, need in needs.items()}


def _corridor(plan: Plan) -> dict[str, dict[str, Any]]:
    settings = plan.study.connectivity
    return {
        "corridor.passage": _rule(
            "exp(-ln 2 x distance / median)"
            if settings.kernel == "exponential"
            else f"(1 + distance / s) ** -{FAT_TAIL_POWER:g}, 1/2 at the median",
            "1",
            "kernel: connectivity.kernel; medians: knowledge table butterflies, or the study",
            "chance of getting across a link",
        ),
        "corridor.equivalent_area": _rule(
            "sqrt(sum a_i a_j p*_ij)",
            "m2",
            "Saura et al. 2011, Ecological Indicators 11:407-416",
            "a: habitat of a place; p*: greatest product of passages over links",
        ),
        "corridor.cut": _rule(settings.cut, "1", STUDY, "products of passages below this count as none"),
        "corridor.unlimited": _rule(
            _width_m(plan),
            "m",
            "common practice",
            "distance does not limit a butterfly whose longest link is at least the diagonal of the box "
            "around all yards and anchors",
        ),
    }


def _width_m(plan: Plan) -> float:
    """Return the diagonal [m] of the box around all yards and anchors."""
    anchors = plan.layers.frame("anchors")
    boxes = [plan.layers.yards.total_bounds] + ([] if anchors is None else [anchors.total_bounds])
    west, south = (min(box[k] for box in boxes) for k in (0, 1))
    east, north = (max(box[k] for box in boxes) for k in (2, 3))
    return float(((east - west) ** 2 + (north - south) ** 2) ** 0.5)


def _choice(plan: Plan) -> dict[str, dict[str, Any]]:
    planting = plan.study.planting
    quick = planting.effort == "quick"
    return {
        "choice.bound": _rule(
            "gap = (bound - worth) / worth",
            "1",
            "branch and bound: no set of the beds listed for a yard could be worth more than the bound",
            "column gap of yard_results",
        ),
        "choice.stops_at": _rule(
            {
                "gap": QUICK_GAP if quick else planting.gap,
                "nodes": QUICK_NODES if quick else planting.node_limit,
            },
            "1",
            JUDGEMENT if quick else STUDY,
            "the search of a yard ends here",
        ),
        "choice.species_share": _rule(
            planting.max_species_share,
            "1",
            STUDY,
            "most of a bed's ground that one kind takes, a clump aside",
        ),
        "spacing.pairs": _rule(
            "(spacing_m of one + spacing_m of the other) / 2",
            "m",
            "knowledge table plants; the mean for two kinds: common practice",
            "least distance between two plants of a yard, in one bed or two, but for spacing.stem",
        ),
        "spacing.stem": _rule(
            TRUNK_CLEAR_M,
            "m",
            JUDGEMENT,
            "herbs come as near as this to the stem of a tree, tall shrub or vine in a place of its own",
        ),
        "choice.kind_yards": _rule(
            {"most": planting.kind_yards_max, "caps": planting.caps, "free_yards": FREE_YARDS},
            "1",
            STUDY,
            "most of the yards before it in turn in which one kind above the ground layer may stand",
        ),
        "choice.class_limits": _rule(
            list(plan.study.suitability.class_limits), "1", STUDY, "lowest fit of classes S1, S2 and S3"
        ),
    }


def _buying() -> dict[str, dict[str, Any]]:
    return {
        "buying.spares": _rule(SPARE_SHARE, "1", PRACTICE, "bought beyond the plan, rounded up, by form"),
        "buying.tray": _rule(TRAY, "plugs", PRACTICE, "plugs come in trays of this many"),
        "buying.singles": _rule(
            SINGLES, "plugs", JUDGEMENT, "more than this beyond full trays: one more tray, else singles"
        ),
        "calendar.preparing": _rule(
            PREPARING_DAYS, "days", JUDGEMENT, "from the first cut of turf to planting"
        ),
    }

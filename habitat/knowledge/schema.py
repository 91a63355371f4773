"""What each table must look like: columns, kinds, units, ranges. Plain data."""

from __future__ import annotations

from dataclasses import replace

from habitat.factors import FACTORS, Factor
from habitat.knowledge.columns import Column, Kind, Schema

TEXT, NOTE = Column(), Column(blank=True)
FLAG = Column("flag")
MONTH = Column("integer", "month", 1, 12)
MAYBE_MONTH = Column("integer", "month", 1, 12, blank=True)
KIND = Column("choice", choices=("published", "memory"), blank=True)
SOURCED = {"source": NOTE, "source_kind": KIND}
DAYS = Column("integer", "days", 0, 400)
NAMES = Column("names", blank=True)
WINDOWS = Column("windows", "half-months", blank=True)
SPANS = Column("spans", "broods", blank=True)
MAYBE_FLAG = Column("flag", blank=True)
PARTS = ("leaf", "new_growth", "bud", "flower", "pod", "catkin", "fallen_leaf", "stem", "root")
"""Parts of a plant that caterpillars eat; when each is there: ``food.py``."""
TAXON_RANK = ("species", "genus", "family")


def _one_of(words: str, default: str = "") -> Column:
    """Return a column for one of some words; blank stands for ``default``."""
    return Column("choice", choices=tuple(words.split()), blank=True, default=default)


def _some_of(words: str, default: str = "") -> Column:
    """Return a column for a list of some words; blank stands for ``default``."""
    return Column("list", choices=tuple(words.split()), blank=True, default=default)


def _maybe(unit: str, low: float, high: float) -> Column:
    return Column("number", unit, low, high, blank=True)


def _size(unit: str, high: float) -> Column:
    return Column("number", unit, 0.01, high)


PLANTS = Schema(
    key=("scientific_name",),
    columns={
        "scientific_name": TEXT,
        "common_name": TEXT,
        "family": TEXT,
        "form": Column("choice", choices=("forb", "graminoid", "shrub", "vine", "tree")),
        "life_span": Column("choice", choices=("annual", "biennial", "perennial", "woody")),
        "height_m": _size("m", 80),
        "spread_m": _size("m", 40),
        "spacing_m": _size("m", 40),
        "bloom_start_month": MONTH,
        "bloom_end_month": MONTH,
        "nectar_value": Column("integer", "0 none to 3 excellent", 0, 3),
        "is_host": FLAG,
        "aggressive_spread": FLAG,
        "hazards": Column(
            "list", choices=("none", "toxic_if_eaten", "skin_irritant", "thorns", "toxic_to_pets")
        ),
        "propagation": Column(
            "list",
            choices=(
                "seed",
                "plug",
                "container",
                "bare_root",
                "division",
                "cuttings",
                "root_cutting",
                "corm",
                "tubers",
            ),
        ),
        "seed_collect_start_month": MONTH,
        "seed_collect_end_month": MONTH,
        "cold_stratification_days": DAYS,
        **SOURCED,
        "notes": NOTE,
        "wetland_indicator_emp": Column(
            "choice", choices=("OBL", "FACW", "FAC", "FACU", "UPL", "not_listed"), blank=True
        ),
        "recorded_native_states": NOTE,
        "checked_fields": NOTE,
        "leaf_start_month": MAYBE_MONTH,
        "leaf_end_month": MAYBE_MONTH,
        "region": NOTE,
        "sun_top_kind": _one_of("none memory published", "memory"),
        "leaf_habit": _one_of(
            "evergreen deciduous dies_back spring_only biennial summer_annual winter_annual"
        ),
        "leaf_windows": WINDOWS,
        "leaf_source_kind": KIND,
        "companions": NAMES,
        "companions_why": _one_of("root_hemiparasite"),
        "companions_source_kind": KIND,
        "night_flower": _one_of("none pale_scented open_day_and_night opens_at_night", "none"),
        "night_tongue": _one_of("any long short"),
        "night_source": NOTE,
        "night_source_kind": KIND,
        "flower_color": _some_of("none white yellow orange red pink purple blue green brown"),
        "flower_color_source_kind": KIND,
    },
    together=(("leaf_start_month", "leaf_end_month"),),
)
"""But for the columns of needs, which ``schema_of`` adds."""

MOVE = Column("number", "m", 1, 1_000_000)
MOVES = ("typical_movement_low_m", "typical_movement_median_m", "typical_movement_high_m")

BUTTERFLIES = Schema(
    key=("scientific_name",),
    columns={
        "scientific_name": TEXT,
        "common_name": TEXT,
        "family": TEXT,
        "flight_start_month": MONTH,
        "flight_end_month": MONTH,
        "broods_per_year": Column("integer", "broods", 1, 4),
        "overwinter_stage": Column("choice", choices=("egg", "larva", "pupa", "adult", "migrates")),
        "where_overwinters": Column(
            "choice", choices=("leaf_litter", "on_stem", "bark", "host", "away_from_host", "soil")
        ),
        "adult_food": Column("list", choices=("none", "nectar", "sap", "mud", "dung", "rotting_fruit")),
        "habitat": Column("choice", choices=("open", "edge", "woodland", "wetland")),
        **dict.fromkeys(MOVES, MOVE),
        "mobility_class": Column(
            "choice", choices=("sedentary", "intermediate", "wide_ranging", "migratory")
        ),
        **SOURCED,
        "movement_source_kind": Column("choice", choices=("evidence", "memory"), blank=True),
        "checked_fields": NOTE,
        "notes": NOTE,
        "egg_start_month": MAYBE_MONTH,
        "region": NOTE,
        "kind": _one_of("butterfly moth", "butterfly"),
        "flies": _one_of("day dusk night", "day"),
        "flight_windows": WINDOWS,
        "egg_windows": WINDOWS,
        "egg_broods": SPANS,
        "eggs_on": _some_of("leaf new_growth bud flower twig litter stem any", "leaf"),
        "feeding_windows": WINDOWS,
        "feeding_broods": SPANS,
        "feeds_before_winter": MAYBE_FLAG,
        "winter_stage": _one_of(
            "egg larva larva_young larva_1st_instar larva_3rd_instar larva_4th_instar larva_half_grown "
            "larva_full_grown pupa adult none_migrates unknown"
        ),
        "pupates": _one_of("soil litter on_host on_stem bark other"),
        "gregarious": _one_of("no small_groups when_young before_winter always", "no"),
        "brood_plants_factor": Column("number", "times", 1, 10, blank=True, default="1"),
        "needs_record": MAYBE_FLAG,
        "biology_source": NOTE,
        "biology_source_kind": KIND,
        "biology_memory_fields": NAMES,
        "doubt": NOTE,
    },
    together=(("egg_windows", "egg_broods"), ("feeding_windows", "feeding_broods")),
    rising=(MOVES,),
)

HOSTS = Schema(
    key=("scientific_name", "host_taxon"),
    columns={
        "scientific_name": TEXT,
        "host_taxon": TEXT,
        "rank": Column("choice", choices=TAXON_RANK),
        "use": Column("choice", choices=("primary", "secondary", "none")),
        **SOURCED,
        "region": NOTE,
        "only_herbaceous": MAYBE_FLAG,
        "lays": _one_of("yes no doubtful", "yes"),
        "eaten_when": _one_of("any after_winter older_caterpillars", "any"),
        "part_eaten": Column("list", choices=PARTS, blank=True, default="leaf"),
        "biology_source": NOTE,
        "biology_source_kind": KIND,
        "doubt": NOTE,
    },
)

SYNONYMS = Schema(
    key=("old_name",),
    columns={
        "old_name": TEXT,
        "accepted_name": TEXT,
        "kind": Column("choice", choices=("plant", "butterfly", "lookalike")),
        **SOURCED,
    },
)

LOOKALIKES = Schema(
    key=("native_taxon", "lookalike_scientific_name"),
    columns={
        "native_taxon": TEXT,
        "lookalike_scientific_name": TEXT,
        "lookalike_common_name": TEXT,
        "confusion_kind": Column(
            "choice",
            choices=("confused_with", "sold_as", "self_sown", "substitute_host", "substitute_nectar"),
        ),
        "reason": TEXT,
        "action": Column(
            "choice",
            choices=(
                "avoid",
                "avoid_and_remove",
                "avoid_prefer_native",
                "do_not_count_as_host",
                "handle_with_care",
                "never_plant",
                "prefer_wild_form",
            ),
        ),
        **SOURCED,
        "native_in_plants_table": MAYBE_FLAG,
        "plant_instead": NOTE,
    },
)

PRACTICE = Schema(
    key=("id",),
    columns={"id": TEXT, "statement": TEXT, "value": Column("number"), "unit": TEXT, **SOURCED},
)

BODY_COLORS = "white yellow orange red pink purple blue green brown tan grey black"

STAGES = Schema(
    key=("taxon", "rank", "stage"),
    columns={
        "taxon": TEXT,
        "rank": Column("choice", choices=TAXON_RANK),
        "stage": Column("choice", choices=("egg", "larva", "pupa", "adult")),
        "looks": TEXT,
        "where_found": TEXT,
        **SOURCED,
        "shape": _one_of(
            "round upright flat cluster smooth slug spiny hairy horned tailed feelers looper hanging girdled "
            "cocoon lying rounded small skipper narrow moth"
        ),
        "color": _one_of(BODY_COLORS),
        "marks": _one_of("none bands border checks eyespots lines patches spots stripes tips veins", "none"),
        "mark_color": _one_of(BODY_COLORS),
    },
)

YEARS = Column("integer", "growing seasons", 1, 20)

BROOD_NEEDS = Schema(
    key=("taxon", "rank"),
    columns={
        "taxon": TEXT,
        "rank": Column("choice", choices=("species", "genus", "form")),
        "plants_per_brood": Column("integer", "plants", 1, 1000, blank=True),
        "practice_rule": NOTE,
        "spare_share": Column("number", "share of the plants", 0, 5),
        "regrowths": Column("integer", "times a season", 0, 5),
        "years_from_seed": YEARS,
        "years_from_plug": YEARS,
        "years_from_pot": YEARS,
        "notes": NOTE,
        **SOURCED,
    },
    rising=(("years_from_pot", "years_from_plug", "years_from_seed"),),
)

CAUTION_RULES = (
    "any",
    "host",
    "aggressive_spread",
    "thirsty_roots",
    "resinous",
    "browsed",
    "litter_brood",
    "stem_brood",
)
"""What a caution can be about beside a form, a hazard, a family, a genus or a species (``care.py``)."""

CAUTIONS = Schema(
    key=("id",),
    columns={
        "id": TEXT,
        "when": Column("choice", choices=("always", "sprayed", "children", "pets", "deer", "septic")),
        "applies_to": TEXT,
        "effect": Column("choice", choices=("tell", "no_hosts")),
        "words": TEXT,
        **SOURCED,
        "not_for": NAMES,
    },
)

ACTIONS = "none tell gloves keep_away ask bar rising"

HAZARD_CLASSES = Schema(
    key=("scientific_name",),
    columns={
        "scientific_name": TEXT,
        "class_four": _some_of("1 2 3 4"),
        "class_basis": KIND,
        "exposure": _some_of("eaten skin thorns animals"),
        "nrcs_toxicity": _one_of("none slight moderate severe"),
        "part": NOTE,
        "evidence": NOTE,
        **dict.fromkeys(
            (
                "children_action",
                "children_counted",
                "pets_action",
                "pets_counted",
                "stock_action",
            ),
            _one_of(ACTIONS, "tell"),
        ),
        **SOURCED,
    },
)

SPREAD_CLASSES = Schema(
    key=("scientific_name",),
    columns={
        "scientific_name": TEXT,
        "how": NAMES,
        "grade": Column(
            "choice", choices=("clumps", "self_sows", "creeps", "runs", "suckers", "seeds_freely")
        ),
        "m_per_year_low": _maybe("m a year", 0, 50),
        "m_per_year_high": _maybe("m a year", 0, 50),
        "rate_kind": KIND,
        "contained_by": NAMES,
        "nrcs_vegetative_spread": _one_of("none slow moderate rapid"),
        "nrcs_seed_spread": _one_of("none slow moderate rapid"),
        "lawn_edge": MAYBE_FLAG,
        **SOURCED,
    },
    rising=(("m_per_year_low", "m_per_year_high"),),
)

NATIVE_STATES = Schema(
    key=("scientific_name",),
    columns={
        "scientific_name": TEXT,
        "native_states": TEXT,
        "also_listed_introduced": MAYBE_FLAG,
        "doubtful_states": NOTE,
        "state_level_doubt": NOTE,
        **SOURCED,
    },
)

MOTH_CARE = Schema(
    key=("id",),
    columns={
        "id": TEXT,
        "applies_to": NAMES,
        "rank": Column("choice", choices=("pupates", "species", "genus", "family", "all")),
        "action": TEXT,
        "words": TEXT,
        **SOURCED,
    },
)

GENUS_WORDS = Schema(
    key=("word",),
    columns={
        "word": TEXT,
        "genus": NAMES,
        "certainty": Column("choice", choices=("sure", "likely")),
        **SOURCED,
    },
)

SOURCES = Schema(key=("key",), columns={"key": TEXT, "citation": TEXT})

SCHEMAS: dict[str, Schema] = {
    "plants": PLANTS,
    "butterflies": BUTTERFLIES,
    "hosts": HOSTS,
    "synonyms": SYNONYMS,
    "lookalikes": LOOKALIKES,
    "practice": PRACTICE,
    "stages": STAGES,
    "brood_needs": BROOD_NEEDS,
    "cautions": CAUTIONS,
    "hazard_classes": HAZARD_CLASSES,
    "spread_classes": SPREAD_CLASSES,
    "native_states": NATIVE_STATES,
    "moth_care": MOTH_CARE,
    "genus_words": GENUS_WORDS,
    "sources": SOURCES,
}
"""Every table by the name that the study file gives it; ask ``schema_of`` for all of its columns."""


def schema_of(table: str) -> Schema:
    """Return what a table must look like: that of plants has the columns of every factor too."""
    schema = SCHEMAS[table]
    if table != "plants":
        return schema
    columns: dict[str, Column] = {}
    for name, column in schema.columns.items():
        columns[name] = column
        if name == "spacing_m":
            columns |= {c: _need_column(f) for f in FACTORS.values() for c in f.wants.columns}
    wants = [f.wants for f in FACTORS.values() if len(f.wants.columns) > 1]
    return replace(
        schema,
        columns=columns,
        rising=(*schema.rising, *(w.columns for w in wants)),
        together=(*schema.together, *(w.columns for w in wants if not w.required)),
    )


def _need_column(factor: Factor) -> Column:
    wants, blank = factor.wants, not factor.wants.required
    if wants.groups is not None:
        return Column("list", choices=tuple(wants.groups), blank=blank)
    kind: Kind = "integer" if factor.classes else "number"
    return Column(kind, factor.said_unit, wants.low, wants.high, blank=blank)


FILES = {name: f"{name}.csv" for name in SCHEMAS} | {"lookalikes": "lookalike_warnings.csv"}
"""File of each table in the shared folder, a region's and ``habitat new``."""

OF_A_REGION = ("plants", "butterflies", "hosts")
"""Tables that a region must bring; the others may stand in the shared folder alone."""

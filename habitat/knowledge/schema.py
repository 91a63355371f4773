"""What each table must look like: columns, kinds, units, ranges. Plain data, and the check of one cell."""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["text", "number", "integer", "flag", "choice", "list"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its kind, its unit, what is allowed in it, and whether it may be blank."""

    kind: Kind = "text"
    unit: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    choices: tuple[str, ...] = ()
    blank: bool = False

    def fault(self, text: str) -> str:
        """Return the rule that a cell breaks, or "" if it is right; blank cells are judged elsewhere."""
        if self.kind == "text":
            return ""
        if self.kind == "flag":
            return "" if text.lower() in ("true", "false", "yes", "no") else "must be true or false"
        if self.kind in ("choice", "list"):
            parts = split_list(text) if self.kind == "list" else [text]
            wrong = [p for p in parts if p not in self.choices]
            return _not_among(wrong[0], self.choices) if wrong else ""
        value = to_number(text)
        if value is None:
            return f"must be a number, not {text!r}"
        if self.kind == "integer" and value != int(value):
            return f"must be a whole number, not {text!r}"
        if not self.low <= value <= self.high:
            unit = f" {self.unit}" if self.unit else ""
            return f"must lie between {self.low:g} and {self.high:g}{unit}, not {text}"
        return ""


@dataclass(frozen=True, slots=True)
class Schema:
    """One table: its key, its columns, groups of columns that must not fall, pairs of months."""

    key: tuple[str, ...]
    columns: dict[str, Column]
    rising: tuple[tuple[str, ...], ...] = ()
    together: tuple[tuple[str, ...], ...] = field(default=())


def split_list(text: str) -> list[str]:
    """Return the parts of a list in a cell, which has semicolons between."""
    return [part.strip() for part in text.split(";") if part.strip()]


def to_number(text: str) -> float | None:
    """Return a cell as a number, or None; a decimal comma is understood."""
    cleaned = text.replace(",", ".") if re.fullmatch(r"\s*-?\d+,\d+\s*", text) else text
    try:
        value = float(cleaned)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def nearest(name: str, known: tuple[str, ...] | list[str]) -> str:
    """Return a hint at the nearest known name, or ""."""
    close = difflib.get_close_matches(name, list(known), n=1, cutoff=0.6)
    return f"; did you mean {close[0]!r}?" if close else ""


def _not_among(value: str, choices: tuple[str, ...]) -> str:
    return f"{value!r} is not one of {', '.join(choices)}{nearest(value, choices)}"


TEXT, NOTE = Column(), Column(blank=True)
FLAG = Column("flag")
MONTH = Column("integer", "month", 1, 12)
MAYBE_MONTH = Column("integer", "month", 1, 12, blank=True)
KIND = Column("choice", choices=("published", "memory"), blank=True)
SOURCED = {"source": NOTE, "source_kind": KIND}
RANK = Column("integer", "drainage rank", 1, 7)
SUN = Column("number", "h/day", 0, 15)
PH = Column("number", "pH", 3, 10)
DAYS = Column("integer", "days", 0, 400)
TAXON_RANK = ("species", "genus", "family")


def _size(unit: str, high: float) -> Column:
    return Column("number", unit, 0.01, high)


def _maybe(unit: str, low: float, high: float) -> Column:
    return Column("number", unit, low, high, blank=True)


def _four(stem: str, column: Column, tail: str = "") -> dict[str, Column]:
    return {f"{stem}_{part}{tail}": column for part in ("min", "opt_low", "opt_high", "max")}


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
        **_four("sun", SUN, "_h"),
        **_four("ph", PH),
        **_four("drainage", RANK),
        "texture_ok": Column("list", choices=("coarse", "medium", "fine")),
        "rooting_depth_min_cm": _size("cm", 300),
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
        "zone_min": _maybe("hardiness zone", 1, 13.5),
        "zone_max": _maybe("hardiness zone", 1, 13.5),
        "available_water_min_mm": _maybe("mm in the root zone", 0, 400),
        "available_water_opt_mm": _maybe("mm in the root zone", 0, 400),
        "salt_full_ds_m": _maybe("dS/m, saturated paste", 0, 60),
        "salt_max_ds_m": _maybe("dS/m, saturated paste", 0, 60),
        "sun_afternoon_full_h": _maybe("h after solar noon", 0, 8),
        "sun_afternoon_max_h": _maybe("h after solar noon", 0, 8),
        "region": NOTE,
    },
    rising=(
        tuple(_four("sun", SUN, "_h")),
        tuple(_four("ph", PH)),
        tuple(_four("drainage", RANK)),
        ("zone_min", "zone_max"),
        ("available_water_min_mm", "available_water_opt_mm"),
        ("salt_full_ds_m", "salt_max_ds_m"),
        ("sun_afternoon_full_h", "sun_afternoon_max_h"),
    ),
    together=(
        ("leaf_start_month", "leaf_end_month"),
        ("zone_min", "zone_max"),
        ("available_water_min_mm", "available_water_opt_mm"),
        ("salt_full_ds_m", "salt_max_ds_m"),
        ("sun_afternoon_full_h", "sun_afternoon_max_h"),
    ),
)

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
            "choice", choices=("leaf_litter", "on_stem", "bark", "host", "away_from_host")
        ),
        "adult_food": Column("list", choices=("nectar", "sap", "mud", "dung", "rotting_fruit")),
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
    },
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
        "only_herbaceous": Column("flag", blank=True),
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
        "native_in_plants_table": Column("flag", blank=True),
        "plant_instead": NOTE,
    },
)

PRACTICE = Schema(
    key=("id",),
    columns={"id": TEXT, "statement": TEXT, "value": Column("number"), "unit": TEXT, **SOURCED},
)

STAGES = Schema(
    key=("taxon", "rank", "stage"),
    columns={
        "taxon": TEXT,
        "rank": Column("choice", choices=TAXON_RANK),
        "stage": Column("choice", choices=("egg", "larva", "pupa")),
        "looks": TEXT,
        "where_found": TEXT,
        **SOURCED,
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
    "sources": SOURCES,
}
"""Every table by the name that the study file gives it."""

FILES = {name: f"{name}.csv" for name in SCHEMAS} | {"lookalikes": "lookalike_warnings.csv"}
"""Shipped file of each table."""

"""Where each value comes from: published, memory, an own table."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

import pandas as pd

from habitat.knowledge.columns import split_list
from habitat.knowledge.schema import schema_of
from habitat.knowledge.tables import Knowledge

SHEET_FIELDS = {
    "height_m",
    "ph_min",
    "ph_opt_low",
    "ph_opt_high",
    "ph_max",
    "texture_ok",
    "rooting_depth_min_cm",
    "bloom_season",
    "propagation",
}
"""Fields that the federal characteristics sheets state; other checked fields rest on other keys."""

FIELD_STUDIES = ("FISHER2022", "HT2005", "HADDAD2000")
STATUS_FIELDS = {"family", "form", "life_span", "recorded_native_states"}
WEAK = {
    "bloom_start_month": ("bloom_season", "its season agrees with"),
    "bloom_end_month": ("bloom_season", "its season agrees with"),
    "drainage_min": ("drainage_fits_wetland_rating", "it fits the wetland rating, a weak check, of"),
    "drainage_opt_low": ("drainage_fits_wetland_rating", "it fits the wetland rating, a weak check, of"),
    "drainage_opt_high": ("drainage_fits_wetland_rating", "it fits the wetland rating, a weak check, of"),
    "drainage_max": ("drainage_fits_wetland_rating", "it fits the wetland rating, a weak check, of"),
    "typical_movement_low_m": ("movement_evidence", "a field study bears on it:"),
    "typical_movement_median_m": ("movement_evidence", "a field study bears on it:"),
    "typical_movement_high_m": ("movement_evidence", "a field study bears on it:"),
}


@dataclass(frozen=True, slots=True)
class ValueSource:
    """Where a value comes from: ``kind``, and the source in words (keys as in the sources table)."""

    kind: Literal["published", "memory", "own table"]
    text: str

    def __str__(self) -> str:
        if self.kind == "own table":
            return self.text
        return f"{self.kind}: {self.text}" if self.text else self.kind


def value_source(knowledge: Knowledge, table: str, name: str, column: str) -> ValueSource:
    """Return where one value of a plant or butterfly comes from.

    Parameters
    ----------
    table
        "plants" or "butterflies".
    name
        The accepted name.
    column
        A column of the table.

    Examples
    --------
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> from habitat.knowledge import load_knowledge
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> str(value_source(knowledge, "plants", "Asclepias incarnata", "ph_min"))
    'published: agrees with NRCS-CHAR'
    >>> str(value_source(knowledge, "plants", "Asclepias incarnata", "sun_min_h"))
    'memory'
    """
    own = knowledge.own_cells.get((table, name, column))
    if own is not None:
        return ValueSource("own table", own)
    frame = knowledge.plants if table == "plants" else knowledge.butterflies
    checked, source = split_list(str(frame.at[name, "checked_fields"])), str(frame.at[name, "source"])
    if column in checked:
        return ValueSource("published", "agrees with " + _keys(source, column))
    field, words = WEAK.get(column, ("", ""))
    if field in checked:
        return ValueSource("memory", f"{words} {_keys(source, field)}")
    return ValueSource("memory", "")


def _keys(source: str, field: str) -> str:
    """Return the keys of a row's sources that can bear on a field."""
    keys = [k for k in split_list(source) if k.lower() != "memory"]
    for fields, key in (
        (SHEET_FIELDS, "NRCS-CHAR"),
        (STATUS_FIELDS, "NRCS-DIST"),
        ({"wetland_indicator_emp", "drainage_fits_wetland_rating"}, "NWPL2020"),
    ):
        if field in fields and key in keys:
            return key
    if field == "movement_evidence":
        return "; ".join(k for k in keys if k in FIELD_STUDIES)
    other = [k for k in keys if k not in (*FIELD_STUDIES, "NRCS-CHAR", "NRCS-DIST", "NWPL2020")]
    return "; ".join(other or keys)


def row_source(kind: str, source: str) -> str:
    """Return where a row of the other tables comes from, in words; only own rows leave the kind blank.

    Examples
    --------
    >>> row_source("published", "NABA-NJ"), row_source("memory", "memory"), row_source("", "a neighbour")
    ('published: NABA-NJ', 'memory', 'own table: a neighbour')
    """
    if kind == "memory" and source.startswith("memory"):
        return source
    if not kind:
        return source if source.startswith("own table") else f"own table: {source}"
    return f"{kind}: {source}"


def unit_of(table: str, column: str) -> str:
    """Return the unit of a column, or ""."""
    columns = schema_of(table).columns
    return columns[column].unit if column in columns else ""


def citations(knowledge: Knowledge, texts: list[str]) -> pd.DataFrame:
    """Return key and citation of every source that some texts name."""
    used = {k for text in texts for k in re.findall(r"\b[A-Z][A-Z0-9-]{2,}\b", text)}
    return knowledge.sources[knowledge.sources["key"].isin(used)].reset_index(drop=True)

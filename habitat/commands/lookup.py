"""Looking things up in the tables: what ``habitat plants`` and ``habitat butterflies`` share."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd

from habitat.commands.terminal import err, print_json, print_rows, say
from habitat.knowledge import Knowledge, load_knowledge
from habitat.settings.knowledge import KnowledgeSettings
from habitat.study.reading import read_study


def knowledge_of(study: Path | None) -> Knowledge:
    """Return the knowledge tables, with a study's own laid over them if one is named."""
    if study is None:
        return load_knowledge(KnowledgeSettings())
    read = read_study(study)
    knowledge = load_knowledge(read.knowledge, read.folder)
    for words in knowledge.set_aside:
        say(words, err)
    return knowledge


UNITS = re.compile(r"_(?:m|h|cm|mm|ds_m|m2)$")
RANGES = (
    ("_opt_low", ", best from"), ("_opt_high", ", best to"), ("_min", ", least"), ("_max", ", most"),
    ("_opt", ", best from"), ("_full", ", no harm up to"), ("_start_month", ", first month"),
    ("_end_month", ", last month"), ("_low", ", low"), ("_median", ", middle"), ("_high", ", high"),
)  # fmt: skip
KEYS = re.compile(r"[a-z_]+(?:; ?[a-z_]+)*")
NAMES = {"scientific_name": "botanical name", "sun_top_kind": "most sun is", "texture_ok": "soil textures"}
"""Names of columns as people read them: whole names, ends of names; what is left has blanks for dashes."""


def field_words(field: str) -> str:
    """Return the name of a column of the tables as people read it; its unit stands beside the value.

    Examples
    --------
    >>> field_words("sun_opt_low_h"), field_words("ph_min"), field_words("bloom_start_month")
    ('sun, best from', 'pH, least', 'bloom, first month')
    >>> field_words("rooting_depth_min_cm"), field_words("source NRCS-CHAR")
    ('rooting depth, least', 'source NRCS-CHAR')
    """
    if field in NAMES:
        return NAMES[field]
    stem = UNITS.sub("", field)
    for end, words in RANGES:
        if stem.endswith(end):
            stem = stem.removesuffix(end) + words
            break
    return re.sub(r"^ph\b", "pH", stem.replace("_", " "))


def show(frame: pd.DataFrame, title: str, *, as_json: bool) -> None:
    """Print a table, or the same as JSON."""
    rows = [{str(k): value for k, value in row.items()} for row in frame.to_dict(orient="records")]
    if as_json:
        print_json({"rows": rows})
    else:
        told = [{field_words(key): _told(key, value) for key, value in row.items()} for row in rows]
        print_rows(title, told)


def _told(key: str, value: object) -> object:
    """Return a cell as people read it: names of columns in words, keys of lists without their dashes."""
    if key == "field":
        return field_words(str(value))
    if isinstance(value, str) and KEYS.fullmatch(value):
        return value.replace("_", " ").replace("; ", ";").replace(";", "; ")
    return value

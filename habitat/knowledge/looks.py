"""What eggs, caterpillars and chrysalises look like, where they are and when, so that people find them."""

from __future__ import annotations

import itertools

import pandas as pd

from habitat.knowledge.columns import split_list
from habitat.knowledge.months import month_span_words, month_words, months_text
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import WINTER_PLACES, migrates, stages, winter_place

STAGE_WORDS = {"egg": "eggs", "larva": "caterpillars", "pupa": "chrysalises"}

WINTER_KEEP = {
    "leaf_litter": "leave fallen leaves where they lie",
    "on_stem": "leave stems standing",
    "bark": "leave loose bark, dead wood and log piles",
    "host": "do not cut back or clear the host plants",
    "soil": "leave soil and fallen leaves alone under and near the host plants",
}
"""Winter place -> what must not be tidied."""


def flower_colors(text: object) -> tuple[str, ...]:
    """Return the colours of a cell ``flower_color``, main one first; none where no flower is seen.

    Examples
    --------
    >>> flower_colors("red;yellow"), flower_colors("none"), flower_colors("")
    (('red', 'yellow'), (), ())
    """
    named = split_list(text) if isinstance(text, str) else []
    return tuple(color for color in named if color != "none")


def stage_looks(knowledge: Knowledge, butterfly: str) -> pd.DataFrame:
    """Return how to know the young stages of a butterfly, the words of its species, else genus, else family.

    Returns
    -------
    DataFrame
        A row per stage that there are words for: stage (egg, larva, pupa), looks, where_found, months (text
        such as 4-6), when (the same by name), taxon (whose words they are), source, source_kind.
    """
    row = knowledge.butterflies.loc[[butterfly]].iloc[0]
    table, year = knowledge.stages, stages(row)
    taxa = (("species", butterfly), ("genus", butterfly.split(maxsplit=1)[0]), ("family", row["family"]))
    out = []
    for stage in ("egg", "larva", "pupa"):
        for rank, taxon in taxa:
            found = table[(table["stage"] == stage) & (table["rank"] == rank) & (table["taxon"] == taxon)]
            if len(found):
                words = found.iloc[0]
                months = list(year.index[year[stage]])
                text, names = months_text(months), month_span_words(months)
                told = (words["source"], words["source_kind"])
                out.append((stage, words["looks"], words["where_found"], text, names, taxon, *told))
                break
    columns = ["stage", "looks", "where_found", "months", "when", "taxon", "source", "source_kind"]
    return pd.DataFrame(out, columns=columns)


def stage_drawings(knowledge: Knowledge, butterfly: str) -> dict[str, dict[str, str]]:
    """Return what it takes to draw each stage of a butterfly: of its species, else genus, else family.

    Returns
    -------
    dict
        By stage (egg, larva, pupa, adult) that is known: shape, color, marks, mark_color (``stages.csv``), ""
        where nothing is said, with looks and where_found.
    """
    row, table = knowledge.butterflies.loc[[butterfly]].iloc[0], knowledge.stages
    taxa = (("species", butterfly), ("genus", butterfly.split(maxsplit=1)[0]), ("family", row["family"]))
    drawn: dict[str, dict[str, str]] = {}
    for stage, (rank, taxon) in itertools.product(("egg", "larva", "pupa", "adult"), taxa):
        found = table[(table["stage"] == stage) & (table["rank"] == rank) & (table["taxon"] == taxon)]
        if stage not in drawn and len(found):
            said = found.iloc[0]
            names = ("shape", "color", "marks", "mark_color", "looks", "where_found")
            drawn[stage] = {name: str(said[name] or "") if said[name] == said[name] else "" for name in names}
    return drawn


def winter_words(knowledge: Knowledge, butterfly: str) -> str:
    """Return where a butterfly winters and what must therefore not be tidied, in one sentence."""
    row = knowledge.butterflies.loc[[butterfly]].iloc[0]
    name = row["common_name"]
    if migrates(row):
        return f"The {name} does not winter here, so nothing has to be kept for it."
    place = winter_place(row)
    if place == "away_from_host":
        return (
            f"The {name} winters away from its hosts, in caves and cellars, so nothing has to be kept for it."
        )
    stage = {**STAGE_WORDS, "adult": "adults"}[str(row["overwinter_stage"])]
    month = int(knowledge.practice_value("cleanup_month_earliest"))
    return (
        f"The {name} spends the winter as {stage} {WINTER_PLACES[place]}: {WINTER_KEEP[place]} "
        f"until spring has stayed warm ({month_words([month])} at the earliest)."
    )

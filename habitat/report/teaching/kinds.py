"""What a page to teach with tells of a butterfly or moth that the plan serves, in plain words."""

from __future__ import annotations

from dataclasses import dataclass

from habitat.knowledge.care import moth_care
from habitat.knowledge.looks import stage_drawings, winter_words
from habitat.knowledge.year import stages
from habitat.report.plan import Plan
from habitat.report.rows import row_of
from habitat.report.teaching.figures import figure
from habitat.report.words.months import month_words
from habitat.report.words.text import plain
from habitat.terms import ANCHOR

STAGE_NAMES = {"egg": "Egg", "larva": "Caterpillar", "pupa": "Chrysalis", "adult": "Adult"}
NOT_TO_SIZE = "Drawn in plain forms, not to size; colours vary from one to the next."
UNDONE = (
    "Spray nothing, here or next door: it kills caterpillars.",
    "Look, and leave eggs and caterpillars where they are: most that are carried home do not live.",
)
"""What to leave undone for every kind; the winter follows."""


@dataclass(frozen=True, slots=True)
class StagePage:
    """A stage: its name, figure (SVG), looks, where and when in words, and its months [1-12]."""

    name: str
    svg: str
    looks: str
    where: str
    when: str
    months: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class KindPage:
    """A butterfly or moth: names, stages, plants here that feed its caterpillars, what to leave undone."""

    common: str
    scientific: str
    stages: tuple[StagePage, ...]
    hosts: tuple[str, ...]
    undone: tuple[str, ...]


def served_kinds(plan: Plan) -> list[str]:
    """Return the butterflies and moths that breed in a yard of the plan, by their common names."""
    table = plan.yard_butterflies
    breeds = table[(table["role"] != ANCHOR) & (table["habitat_m2"] > 0)]
    common = plan.knowledge.butterflies["common_name"]
    return sorted(set(breeds["butterfly"]) & set(common.index), key=lambda name: str(common[name]).casefold())


def kind_page(plan: Plan, name: str) -> KindPage:
    """Return what the page of a butterfly or moth tells."""
    row = row_of(plan.knowledge.butterflies, name)
    common, moth = plain(row["common_name"], 60), str(row["kind"]) == "moth"
    year, drawn = stages(row), stage_drawings(plan.knowledge, name)
    pages = []
    for stage, look in drawn.items():
        months = tuple(int(m) for m in year.index[year[stage]])
        title = STAGE_NAMES[stage] if stage != "pupa" or look["shape"] != "cocoon" else "Cocoon"
        title = "Pupa" if title == "Chrysalis" and moth else title
        pages.append(
            StagePage(
                title,
                figure(stage, look, f"{title} of the {common}"),
                plain(look["looks"], 140),
                plain(look["where_found"], 140),
                month_words(months, short=True) or "not seen here",
                months,
            )
        )
    care = [f"{plain(c.words, 260).rstrip('.')}." for c in moth_care(plan.knowledge, [name])]
    undone = (*care, *UNDONE, winter_words(plan.knowledge, name))
    return KindPage(common, plain(name, 60), tuple(pages), _hosts(plan, name), undone)


def _hosts(plan: Plan, name: str) -> tuple[str, ...]:
    """Return the plants, planned and standing, that feed its caterpillars, by common name."""
    found = set()
    for table in (plan.plantings, plan.existing_plants):
        eaters = table["butterflies"].fillna("").astype(str).str.split(";")
        found |= set(table.loc[[name in (e.strip() for e in them) for them in eaters], "plant"].dropna())
    common = plan.knowledge.plants["common_name"]
    return tuple(sorted((plain(common.get(p, p), 60) for p in found), key=str.casefold))

"""Which tables are used: the region, and own tables laid over the shipped ones."""

from __future__ import annotations

from habitat.settings.base import Section


class KnowledgeSettings(Section):
    """``[knowledge]``: the region or a folder of its own, and own tables laid over the shipped ones (CSV)."""

    region: str = "ohio-valley-mid-atlantic"
    region_folder: str | None = None  # a region of your own: its region.toml and tables
    plants: str | None = None
    butterflies: str | None = None
    hosts: str | None = None
    synonyms: str | None = None
    lookalikes: str | None = None
    practice: str | None = None
    stages: str | None = None  # what eggs and caterpillars look like
    brood_needs: str | None = None  # how many plants feed a brood
    cautions: str | None = None
    hazard_classes: str | None = None  # what is poisonous, and how it is handled
    spread_classes: str | None = None  # how a plant spreads, and what contains it
    native_states: str | None = None
    moth_care: str | None = None
    genus_words: str | None = None  # what people call a whole genus
    sources: str | None = None

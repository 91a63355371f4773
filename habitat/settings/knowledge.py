"""Which tables are used: the region, and own tables laid over the shipped ones."""

from __future__ import annotations

from habitat.settings.base import Section


class KnowledgeSettings(Section):
    """``[knowledge]``: the region, and own tables laid over the shipped ones (CSV, same columns)."""

    region: str = "ohio-valley-mid-atlantic"
    plants: str | None = None
    butterflies: str | None = None
    hosts: str | None = None
    synonyms: str | None = None
    lookalikes: str | None = None
    practice: str | None = None
    stages: str | None = None  # what eggs and caterpillars look like
    brood_needs: str | None = None  # how many plants feed a brood
    cautions: str | None = None
    sources: str | None = None

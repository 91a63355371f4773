"""The months with leaves and flowers: those that a study states, else those of its region."""

from __future__ import annotations

from habitat.knowledge import Knowledge
from habitat.knowledge.months import month_range, month_span_words
from habitat.study.model import Study


def in_season(study: Study, knowledge: Knowledge) -> tuple[Study, tuple[str, ...]]:
    """Return a study with its season, and what is told where that is the region's.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> study = Study(layers={"yards": {"path": "yards.gpkg"}})
    >>> south = load_knowledge(KnowledgeSettings(region="south-central"))
    >>> in_season(study, south)[0].study.season
    (2, 11)
    """
    if "season" in study.study.model_fields_set:
        return study, ()
    season = knowledge.region.season_months
    told = f"No season in the study: that of the region counts, {month_span_words(month_range(*season))}."
    return study.changed(study={"season": season}), (told,)

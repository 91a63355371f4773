"""The study file: one TOML file that says what to read and what is wanted."""

from habitat.settings.knowledge import KnowledgeSettings
from habitat.study.model import Study, parse_study
from habitat.study.reading import open_study, read_study

__all__ = ["KnowledgeSettings", "Study", "open_study", "parse_study", "read_study"]

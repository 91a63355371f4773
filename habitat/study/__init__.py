"""The study file: one TOML file that says what to read and what is wanted."""

from habitat.study.model import KnowledgeSettings, Study, parse_study, read_study

__all__ = ["KnowledgeSettings", "Study", "parse_study", "read_study"]

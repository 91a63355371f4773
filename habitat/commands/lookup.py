"""Looking things up in the tables: what ``habitat plants`` and ``habitat butterflies`` share."""

from __future__ import annotations

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


def show(frame: pd.DataFrame, title: str, *, as_json: bool) -> None:
    """Print a table, or the same as JSON."""
    rows = [{str(k): value for k, value in row.items()} for row in frame.to_dict(orient="records")]
    if as_json:
        print_json({"rows": rows})
    else:
        print_rows(title, rows)

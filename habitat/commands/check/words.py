"""What ``habitat check`` adds to the layers: names and words in them that the tables do not know."""

from __future__ import annotations

import pandas as pd

from habitat.knowledge import Knowledge
from habitat.knowledge.names import resolve_butterflies
from habitat.knowledge.place import knowledge_of_place, outside_region
from habitat.layers.types import Layers
from habitat.pipeline.planting import existing_of, offers_of
from habitat.pipeline.sightings import anchors_of
from habitat.remarks import Note, Remark
from habitat.report.words.en import english
from habitat.soil.measured import read_tests
from habitat.study.model import Study
from habitat.sun.relief import roofs_of


def word_notes(study: Study, layers: Layers) -> dict[str, list[Note]]:
    """Return notes by layer about plant, butterfly and soil words that later stages cannot use.

    Raises
    ------
    KnowledgeError
        If the study's own tables break a rule; every fault is listed.
    """
    say = english()
    knowledge = knowledge_of_place(
        study.knowledge, layers.yards, study.folder, states=study.study.states, refuse=False
    )
    notes = {
        "plants": [Note(None, say(found), 1) for found in existing_of(layers, knowledge)[1]],
        "anchors": [Note(None, say(text), 1) for text in anchors_of(study, layers, knowledge)[1]],
        "sightings": _butterflies(layers.frame("sightings"), knowledge),
        "soil_tests": list(map(_said, read_tests(layers.frame("soil_tests"), layers.yards)[1])),
        "buildings": list(map(_said, roofs_of(layers.frame("buildings"), study.site)[1])),
        "growers": [Note(None, say(found), 2) for found in offers_of(study, layers, knowledge)[1]],
    }
    outside = outside_region(knowledge, layers.yards)
    if outside and not study.knowledge.elsewhere:
        outside = (f"{outside[0]} habitat run refuses it unless elsewhere = true stands under [knowledge].",)
    told = (*outside, *knowledge.set_aside)
    notes["study"] = [Note(None, text, 3) for text in told]
    return {name: told for name, told in notes.items() if told}


HARM = {
    "buildings_without_height": 2,
    "soil_test_class_unknown": 2,
    "soil_test_impossible": 2,
    "soil_test_without_yard": 2,
    "soil_tests_several": 0,
}
"""How much harm (0-3) lies in what is told here by remarks; greater comes first."""


def _said(found: Remark) -> Note:
    rows = found.subject.rows
    return Note(rows[0] if rows else None, english()(found), HARM[found.kind])


def _butterflies(seen: pd.DataFrame | None, knowledge: Knowledge) -> list[Note]:
    if seen is None or "butterfly" not in seen:
        return []
    names = seen["butterfly"].dropna().astype(str)
    matches = resolve_butterflies(names.tolist(), knowledge)
    return [
        Note(int(row), f"sightings row {int(row) + 1}: {match.note}", 1)
        for row, match in zip(names.index, matches, strict=True)
        if match.note
    ]

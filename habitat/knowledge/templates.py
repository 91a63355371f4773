"""Blank own tables for another region, written by ``habitat new``."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

TABLES = ("plants", "butterflies", "hosts", "synonyms", "lookalike_warnings", "practice")


def write_region_template(folder: Path) -> None:
    """Write blank tables with the columns of the shipped ones into a folder, which is made if need be."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in TABLES:
        text = (files("habitat.knowledge") / "data" / f"{name}.csv").read_text(encoding="utf-8")
        (folder / f"{name}.csv").write_text(text.splitlines()[0] + "\n", encoding="utf-8")

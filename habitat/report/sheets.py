"""Yard sheets: one PDF per household, and all of them in street order for the print shop."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from habitat.report.plan import Plan, Progress


def write_sheets(
    plan: Plan, folder: Path, yard_ids: Iterable[str] | None = None, progress: Progress | None = None
) -> list[Path]:
    """Write ``yard-<id>.pdf`` for each yard with a plan, and ``all-yards.pdf``; return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    return []

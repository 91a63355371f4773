"""What stages have to tell."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Note:
    """One thing worth telling: ``row`` is None for the layer as a whole; greater ``harm`` (0-3) first."""

    row: int | None
    what: str
    harm: int = 1

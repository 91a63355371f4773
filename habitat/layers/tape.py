"""A yard measured by tape: the table to fill in."""

from __future__ import annotations

from pathlib import Path

HEADER = "what,name,point,east,north\n"


def write_tape_template(folder: Path) -> Path:
    """Write the empty table of a yard measured by tape and return its path."""
    path = folder / "tape.csv"
    path.write_text(HEADER, encoding="utf-8")
    return path

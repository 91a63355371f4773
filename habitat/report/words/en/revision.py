"""What people decided and edited since a run, and what changed under plans that are kept."""

from __future__ import annotations

from habitat.remarks import Subject
from habitat.report.words.say import Say


def decisions_read(_say: Say, _: Subject, *, file: str, what: str) -> str:
    """Say what was found in reading a file of decisions."""
    return f"{file}: {what}"


def decisions_row(_say: Say, _: Subject, *, file: str, row: int, what: str) -> str:
    """Say what is wrong with a row of the decisions."""
    return f"{file}, row {row}: {what}"


def decisions_twice(say: Say, about: Subject, *, file: str, rows: tuple[int, ...], status: str) -> str:
    """Say that several rows speak of one yard, and which counts."""
    listed = " and ".join(map(str, rows))
    return (
        f"{file}, rows {listed}: all are of {say.yard(about.yards[0])}; it counts as {status}, and what the "
        "others say is kept at the end of the table"
    )

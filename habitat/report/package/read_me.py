"""READ_ME.txt: what each file of the results is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from habitat.report.package.tables import TABLES
from habitat.report.plan import Plan
from habitat.report.words.text import plain

AUDIENCE = {
    "group": "For the group only. These files name yards and addresses: do not publish them or pass them on.",
    "public": "For everybody. Names, addresses, notes and parcel numbers are left out, and so are yards "
    "whose households did not agree to be shown. Yard numbers hold for this set of files only.",
}

CAUTIONS = (
    "Parcel lines are not a survey. Before anybody digs, have buried lines marked by the utility locating "
    "service. Keep sight lines at corners and drives. Some plants are toxic if eaten: the sheets say which. "
    "Use no insecticide on or near these plants and buy untreated stock. Local codes, and the advice of "
    "licensed people, go before anything written here."
)


def write_read_me(plan: Plan, folder: Path, files: Sequence[tuple[str, str]]) -> None:
    """Write READ_ME.txt, which tells of the files that are there.

    Parameters
    ----------
    plan
        Already reduced for its audience.
    folder
        The results.
    files
        Name and words of each file or folder (``report.outputs.OUTPUTS``).
    """
    head = plan.study.study
    date = head.date.isoformat() if head.date else "without a date"
    last = ("timings.json", "files.json")  # written when all else is done
    there = [(name, what) for name, what in files if name in last or (folder / name).exists()]
    wide = max((len(name) for name, _ in there), default=0) + 2
    lines = [
        f"{plain(head.name, 300)}, {date}",
        "",
        AUDIENCE[plan.study.report.audience],
        "",
        *(f"{name:<{wide}}{what}" for name, what in there),
        "",
        "Layers of plan.gpkg",
    ]
    for table in TABLES:
        lines += ["", f"{table.name}: {table.title}"]
        lines += [f"  {n}{f' [{u}]' if u else ''}: {what}" for n, _, u, what in table.columns]
    lines += ["", CAUTIONS]
    (folder / "READ_ME.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")

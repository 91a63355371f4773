"""What ``habitat bed`` does with its answers: design, the record for programs, files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from habitat.bed import BedPlan, design_bed
from habitat.bed.design import sorted_butterflies
from habitat.commands.bed.dialogue import Answers
from habitat.errors import OutputError
from habitat.report.rows import each_row

FILES = ("bed.pdf", "bed.txt", "plants.csv")
"""What is written."""


def design_answers(answers: Answers) -> BedPlan:
    """Return the design for complete answers."""
    return design_bed(
        str(answers.place),
        str(answers.size),
        sun=str(answers.sun),
        soil=answers.soil or "unknown",
        wetness=answers.wetness or "unknown",
        wishes=answers.wishes or "",
        children=bool(answers.children),
        pets=bool(answers.pets),
        style=str(answers.style),
    )


def bed_record(plan: BedPlan, files: list[Path]) -> dict[str, Any]:
    """Return a design for programs: plants, butterflies, cost, files, and what was taken and not known."""
    butterflies = sorted_butterflies(plan.butterflies)
    names = butterflies["common_name"].where(butterflies["common_name"] != "", butterflies["butterfly"])
    return {
        "plants": plan.plants[["plant", "common_name", "count", "layer", "purpose"]].to_dict("records"),
        "butterflies": [
            {"name": name, "butterfly": row.butterfly, "verdict": row.verdict, "broods": int(row.broods)}
            for name, row in zip(names, each_row(butterflies), strict=True)
        ],
        "cost": plan.cost,
        "files": [str(path) for path in files],
        "region": plan.knowledge.region.id,
        "area_m2": round(plan.facts.size.area_m2, 4),
        "taken": plan.facts.told,
        "not_assessed": list(plan.not_assessed),
    }


def refuse_target(folder: Path | None, replace: bool) -> None:
    """Refuse a target that holds files which would be lost.

    Raises
    ------
    OutputError
        If it is no folder, or holds a file of an earlier bed and ``replace`` is not set.
    """
    if folder is None or not folder.exists():
        return
    if not folder.is_dir():
        raise OutputError("this is a file, not a folder", str(folder), "Name a folder")
    there = [name for name in FILES if (folder / name).exists()]
    if there and not replace:
        raise OutputError(
            f"{', '.join(there)} would be overwritten", str(folder), "Name a new folder, or add --replace"
        )


def write_bed(plan: BedPlan, folder: Path) -> list[Path]:
    """Write the files of a design into a folder, made if it is not there, and return them.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    from habitat.report.bed.lists import plants_csv
    from habitat.report.bed.pages import bed_pdf
    from habitat.report.bed.text import bed_text
    from habitat.report.whole import write_whole

    made = (bed_pdf(plan), (bed_text(plan) + "\n").encode(), plants_csv(plan))
    contents = dict(zip(FILES, made, strict=True))
    return write_whole(folder, contents, "the bed", "Name a folder that can be written")

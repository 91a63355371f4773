"""The folder for a landscape designer: for each yard a drawing, and its plan as PDF and SVG."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from habitat.report.handover.dxf import write_yard_dxf
from habitat.report.handover.plan import plan_data
from habitat.report.jobs import Job, Shared
from habitat.report.plan import Plan
from habitat.report.sheets.facts import FactFinder
from habitat.report.typeset import Typesetter
from habitat.report.words.text import file_names


def handover_jobs(shared: Shared, folder: Path) -> list[Job]:
    """Return a job for each yard with a plan: ``yard-<id>.dxf``, ``.pdf``, ``.svg`` for each plan."""
    folder.mkdir(parents=True, exist_ok=True)
    names = file_names(shared.once(FactFinder).yards_with_plans(), "yard-")
    return [partial(_write, yard_id=yard_id, stem=folder / name) for yard_id, name in names.items()]


def plan_setter(plan: Plan) -> Typesetter:
    """Return the typesetter of plans at true scale."""
    return Typesetter("plan.typ", plan.study.study.date)


def _write(shared: Shared, yard_id: str, stem: Path) -> list[Path]:
    facts, setter = shared.once(FactFinder).of(yard_id), shared.once(plan_setter)
    dxf, pdf = (stem.with_name(f"{stem.name}.{kind}") for kind in ("dxf", "pdf"))
    data = plan_data(facts)
    write_yard_dxf(facts, dxf)
    pdf.write_bytes(setter.pdf(data))
    files = [dxf, pdf]
    for number, page in enumerate(setter.svg(data)[: 1 + len(data["details"])], 1):
        files.append(stem.with_name(f"{stem.name}{f'-{number}' if number > 1 else ''}.svg"))
        files[-1].write_bytes(page)
    return files

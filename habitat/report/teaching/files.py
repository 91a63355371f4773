"""The pages to teach with as one PDF to print, a page for each butterfly and moth."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from habitat.report.plan import Plan
from habitat.report.teaching.kinds import NOT_TO_SIZE, KindPage, kind_page, served_kinds
from habitat.report.typeset import Typesetter, head

PDF = "teaching/butterflies.pdf"
"""Where it lies in the results."""

TITLE = "Butterflies and moths of this plan"


def write_teaching(plan: Plan, folder: Path) -> list[Path]:
    """Write ``butterflies.pdf``: a page for each kind that breeds in a yard of the plan; none without any."""
    pages = [kind_page(plan, name) for name in served_kinds(plan)]
    if not pages:
        return []
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / Path(PDF).name
    setter = Typesetter("teaching.typ", plan.study.study.date)
    data = {**head(plan, TITLE), "mind": NOT_TO_SIZE, "kinds": [_data(page) for page in pages]}
    path.write_bytes(setter.pdf(data))
    return [path]


def _data(page: KindPage) -> dict[str, Any]:
    stages = [
        {
            "name": s.name,
            "svg": s.svg,
            "looks": s.looks,
            "where": s.where,
            "when": s.when,
            "months": list(s.months),
        }
        for s in page.stages
    ]
    return {
        "common": page.common,
        "scientific": page.scientific,
        "stages": stages,
        "hosts": list(page.hosts),
        "undone": list(page.undone),
    }

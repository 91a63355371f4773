"""The butterflies and moths that the plan serves, on the page: stages, hosts, what to leave."""

from __future__ import annotations

from habitat.report.page import html
from habitat.report.plan import Plan
from habitat.report.teaching.files import PDF
from habitat.report.teaching.kinds import NOT_TO_SIZE, KindPage, kind_page, served_kinds


def kinds_section(plan: Plan) -> str:
    """Return the section, closed for each kind until it is asked for; "" where nothing breeds."""
    pages = [kind_page(plan, name) for name in served_kinds(plan)]
    if not pages:
        return ""
    return (
        '<section aria-labelledby="kinds"><h2 id="kinds">What do they look like?</h2>'
        f'<p><a class="button" href="{PDF}">A page for each to print (PDF)</a></p>'
        f'<p class="small">{NOT_TO_SIZE}</p>{"".join(map(_kind, pages))}</section>'
    )


def _kind(page: KindPage) -> str:
    stages = "".join(
        f"<figure>{s.svg}<figcaption><strong>{html.text(s.name)}</strong> "
        f"{html.text(f'{s.looks}; {s.where} ({s.when})')}</figcaption></figure>"
        for s in page.stages
    )
    eaten = ", ".join(page.hosts) or "nothing of this plan"
    undone = "".join(f"<li>{html.text(line)}</li>" for line in page.undone)
    return (
        f"<details><summary>{html.text(page.common)} <i>{html.text(page.scientific)}</i></summary>"
        f'<div class="stages">{stages}</div><p>Its caterpillars eat here: {html.text(eaten)}.</p>'
        f"<p>What to leave undone:</p><ul>{undone}</ul></details>"
    )

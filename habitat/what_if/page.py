"""The page of opened results as HTML; its script fills it with what stands now."""

from __future__ import annotations

from string import Template

from habitat.report.page import html
from habitat.report.page.data import embedded
from habitat.report.page.map import map_svg
from habitat.what_if.view import View

SCRIPTS = ("page_map.js", "page_yard.js", "what_if.js")


def page_text(view: View) -> str:
    """Return the page; all text from data is escaped here or set as text by the script."""
    still = view.still()
    name = view.plan.study.study.name
    body = Template(html.asset("what_if.html")).substitute(
        name=html.text(name),
        folder=html.text(view.session.folder.name),
        map=map_svg(view.plan, view.sheet),
        keys=html.asset("map_keys.html"),
        ratio=f"{view.sheet.width}/{view.sheet.height}",
    )
    scripts = (
        f'<script type="application/json" id="plan-data">{embedded(still)}</script>\n'
        '<script src="/what_if.js" defer></script>\n'
    )
    return html.document(
        f"What if? {name}",
        body,
        scripts=scripts,
        policy="; script-src 'self'; connect-src 'self'",
        style=html.asset("what_if.css"),
    )

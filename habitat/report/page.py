"""The page: one HTML file that opens offline."""

from __future__ import annotations

from html import escape
from pathlib import Path

from habitat.report.plan import Plan


def write_page(plan: Plan, path: Path) -> None:
    """Write the page."""
    path.write_text(f"<!doctype html><title>{escape(plan.study.study.name)}</title>", encoding="utf-8")

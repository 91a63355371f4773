"""Whom to ask next: candidates by rank, with what each would add and why."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib import colormaps

from habitat.report.maps.base import draw_base, draw_locator, group_bounds
from habitat.report.maps.style import BAR_TOP_IN, INK, PANEL_IN, QUIET, Sheet, wrapped
from habitat.report.maps.town import draw_roles, label_anchors
from habitat.report.plan import Plan
from habitat.report.rows import each_row
from habitat.report.sheets.facts import addresses
from habitat.report.words.en import voice
from habitat.report.words.figures import gain_words
from habitat.report.words.numbers import Units, kept_words
from habitat.report.words.text import plain

VIRIDIS = colormaps["viridis"]
MOST_REASONS = 8
MORE_IN = 0.2
"""Room for the line that tells how many are left out [in]."""


def draw_invitations(plan: Plan, folder: Path) -> list[Path]:
    """Draw the map ``invitations``: ranks in discs whose area goes by the gain, reasons beside."""
    table = plan.invitations.sort_values("rank", kind="stable")
    sheet = Sheet(
        plan,
        "Whom to ask next",
        "Candidates in the order in which they help the whole most, each with its own plan",
        group_bounds(plan),
    )
    ax = sheet.main_map()
    draw_base(ax, plan)
    roles = draw_roles(ax, plan, alpha=0.22)
    label_anchors(ax, plan)
    draw_locator(ax, plan)
    disc = _discs(ax, table)
    y = sheet.legend([("Invitations", [disc, *roles])])
    _reasons(sheet, table, y - 0.05)
    sheet.caption(
        "adds: broods a year and linked breeding ground, with its range over reach; firm: on the list with "
        "other reach, soil and luck too"
    )
    return sheet.save(folder, "invitations")


def _discs(ax: Any, table: Any) -> tuple[Any, str]:
    spots = table.geometry.representative_point()
    gain = table["gain_m2"].to_numpy(float)
    share = np.clip(gain / max(float(np.nanmax(gain)), 1e-9), 0.0, 1.0)
    sizes = 110.0 + 420.0 * share
    colours = VIRIDIS(0.95 - 0.55 * share)
    ax.scatter(spots.x, spots.y, s=sizes, c=colours, edgecolors=INK, linewidths=0.8, zorder=20)
    for point, rank, s in zip(spots, table["rank"], share, strict=True):
        look = {"color": "#ffffff" if 0.95 - 0.55 * s < 0.62 else INK, "ha": "center", "va": "center"}
        ax.text(point.x, point.y, f"{int(rank)}", size=8, weight="bold", zorder=21, **look)
    mark = mpl.lines.Line2D([], [], marker="o", ms=9, mfc=VIRIDIS(0.6), mec=INK, mew=0.8, ls="none")
    return mark, "rank; the larger and darker, the more it adds"


def _reasons(sheet: Sheet, table: Any, y_in: float) -> None:
    """Write the first ranks with yard, gain and reason down the panel, as many as there is room for.

    How many are left out is told.
    """
    left, y, told = sheet.width - PANEL_IN, y_in, 0
    units, lived = Units(sheet.plan.study.report.units), addresses(sheet.plan)
    for row in each_row(table.head(MOST_REASONS)):
        kept = kept_words(row, sheet.plan.study.connectivity.rank_draws)
        firm = f" {kept[:1].upper()}{kept[1:]}." if kept else ""
        text = wrapped(
            f"Adds {gain_words(row, units)}. {plain(voice(sheet.plan.study.report)(row.reason), 150)}.{firm}",
            46,
        )
        high = 0.2 + 0.152 * (text.count("\n") + 1)
        if y - high < BAR_TOP_IN + MORE_IN:
            break
        told += 1
        place = plain(f"{row.yard_id} {lived.get(str(row.yard_id), '')}", 38)
        sheet.text(left, y - 0.12, f"{int(row.rank)}  yard {place}", size=8.6, weight="bold")
        sheet.text(left, y - 0.17, text, size=7.8, va="top", linespacing=1.2)
        y -= high + 0.13
    if len(table) > told:
        words = f"{len(table) - told} more: see the page."
        sheet.text(left, y - 0.12, words, size=7.8, color=QUIET)

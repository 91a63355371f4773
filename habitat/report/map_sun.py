"""Sun: the mean over the months that needs are stated in, and each month of the season."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from habitat.report.map_base import draw_base, town_bounds
from habitat.report.map_classes import SUN, draw_classes
from habitat.report.map_style import Sheet, size_for_panels
from habitat.report.plan import Plan
from habitat.report.words import MONTHS, month_words


def draw_sun(plan: Plan, folder: Path) -> list[Path]:
    """Draw the map ``sun``: hours of direct sun per clear day, mean over ``sun_months``."""
    first, last = plan.study.study.sun_months
    sheet = Sheet(
        plan,
        "How much sun each place gets",
        f"Hours of direct sun per clear day, mean of {month_words(range(first, last + 1))}",
        town_bounds(plan),
    )
    ax = sheet.main_map()
    entries = draw_classes(ax, plan.site.grid, plan.site.rasters["sun_h"], SUN)
    ground = draw_base(ax, plan, faint=True, anchors=False)
    y = sheet.legend([("Direct sun", entries), ("The ground", ground)])
    sheet.notes(
        [
            "Clear days: clouds take their share everywhere alike.",
            "What lies beyond the map casts no shadow on it.",
        ],
        y - 0.1,
    )
    sheet.caption(f"sun: {sun_source(plan)}; cells of {plan.site.grid.cell_m:g} m")
    return sheet.save(folder, "sun")


def draw_sun_by_month(plan: Plan, folder: Path) -> list[Path]:
    """Draw the map ``sun-by-month``: one small map per month of the season, all in the same classes."""
    months, bounds = sorted(plan.site.sun_by_month), town_bounds(plan)
    columns = min(len(months), 4)
    sheet = Sheet(
        plan,
        "Sun, month by month",
        "Hours of direct sun per clear day at mid-month",
        bounds,
        size_in=size_for_panels(bounds, len(months), columns),
    )
    axes = sheet.panels([MONTHS[m - 1] for m in months], columns)
    seen: dict[str, object] = {}
    for ax, month in zip(axes, months, strict=True):
        for handle, words in draw_classes(
            ax, plan.site.grid, plan.site.sun_by_month[month], SUN, shown=range(len(SUN.words))
        ):
            seen.setdefault(words, handle)
        draw_base(ax, plan, faint=True, anchors=False, line_pt=0.15)
    order = [*SUN.words, "unknown"]
    sheet.legend([("Direct sun", [(seen[w], w) for w in order if w in seen])])
    sheet.caption(f"sun: {sun_source(plan)}; cells of {plan.site.grid.cell_m:g} m")
    return sheet.save(folder, "sun-by-month")


def sun_source(plan: Plan) -> str:
    """Return where the sun hours are from, in words."""
    sources = [s for s in np.unique(plan.site.yards["sun_h_source"].astype(str)) if s != "unknown"]
    return "from " + " and ".join(sources) if sources else "source unknown"

"""What each yard offers: the sun and soil that its sheet goes by, one small map per factor."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np

from habitat.report.map_base import draw_lines, ink_line, town_bounds
from habitat.report.map_classes import PH, SUN, TEXTURE, WET, Classes, fill_classes
from habitat.report.map_style import INK, QUIET, Sheet, size_for_panels
from habitat.report.plan import Plan
from habitat.report.words import NEED_WORDS
from habitat.site.texture import texture_number

PANELS: tuple[tuple[str, str, str, Classes], ...] = (
    ("sun_h", "Sun, mean of the yard", "sun_h_mean", SUN),
    ("ph", "Reaction (pH), mean of the yard", "ph_mean", PH),
    ("drainage", "Drainage of most of the yard", "drainage_rank", WET),
    ("texture", "Texture of most of the yard", "texture", TEXTURE),
)
"""Factor, title, column of the site's yards, classes."""

MEASURED = ("soil test", "counted by people")
"""Sources that somebody measured in the yard itself."""


def yard_factors(plan: Plan) -> list[str]:
    """Return the factors that the site has for yards."""
    return [name for name, _, _, _ in PANELS if name in plan.site.assessed]


def draw_yards(plan: Plan, folder: Path) -> list[Path]:
    """Draw the map ``yards``: each yard filled by the class of its own value, dots where it was measured."""
    shown = [panel for panel in PANELS if panel[0] in plan.site.assessed]
    missing = [NEED_WORDS[name] for name, _, _, _ in PANELS if name not in plan.site.assessed]
    bounds, columns = town_bounds(plan), min(2, len(shown))
    sheet = Sheet(
        plan,
        "What each yard offers",
        "One value per yard, weighted by area: the one that its sheet goes by",
        bounds,
        size_in=size_for_panels(bounds, len(shown), columns),
    )
    axes = sheet.panels([title for _, title, _, _ in shown], columns)
    groups, dotted = [], False
    for ax, (name, title, column, classes) in zip(axes, shown, strict=True):
        groups.append((title.split(",")[0], _fill(ax, plan, column, classes)))
        dotted |= _dots(ax, plan.site.yards, f"{name}_source")
    if dotted:
        mark = ink_line(marker="o", ms=3.0, lw=0, color=INK)
        groups.append(("Dots", [(mark, "measured in the yard itself")]))
    y = sheet.legend(groups)
    if missing:
        sheet.notes([f"Not assessed, for want of layers: {', '.join(missing)}."], y - 0.05)
    sheet.caption("sun of the study's sun months; soil as the layers and tests have it")
    return sheet.save(folder, "yards")


def _fill(ax: Any, plan: Plan, column: str, classes: Classes) -> list[tuple[Any, str]]:
    yards = plan.site.yards
    values = yards[column]
    if column == "texture":
        values = values.map(texture_number)
    entries = fill_classes(ax, yards.geometry, values.to_numpy(float), classes)
    draw_lines(ax, yards.geometry, colors=QUIET, linewidths=0.25, zorder=5)
    return entries


def _dots(ax: Any, yards: gpd.GeoDataFrame, source: str) -> bool:
    """Mark the yards whose value somebody measured there; return whether there are any."""
    here = np.array([any(word in str(text) for word in MEASURED) for text in yards[source]], bool)
    spots = yards.geometry[here].representative_point()
    ax.scatter(spots.x, spots.y, s=5, color=INK, linewidths=0, zorder=6)
    return bool(here.any())

"""What the ground offers: sun, soil, closed ground, and yard by yard."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import matplotlib as mpl
import numpy as np
from matplotlib import colormaps
from numpy.typing import NDArray

from habitat.factors import FACTORS
from habitat.factors.classes import texture_number
from habitat.report.maps.base import draw_base, draw_lines, draw_shapes, ink_line, town_bounds
from habitat.report.maps.classes import (
    DEPTH,
    PH,
    SUN,
    TEXTURE,
    WATER,
    WET,
    Classes,
    draw_classes,
    fill_classes,
)
from habitat.report.maps.style import INK, QUIET, Sheet, size_for_panels
from habitat.report.plan import Plan
from habitat.report.words.months import month_words
from habitat.report.words.numbers import Units
from habitat.report.words.text import listed, plain
from habitat.terms import MONTHS


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
    sheet.caption(_sun_caption(plan))
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
    sheet.caption(_sun_caption(plan))
    return sheet.save(folder, "sun-by-month")


def _sun_caption(plan: Plan) -> str:
    """Return where the sun hours are from, unless that is not for everybody, and the size of the cells."""
    told = set(plan.site.yards["sun_h_source"].astype(str))
    cells = f"cells of {plan.site.grid.cell_m:g} m"
    if told == {""}:
        return cells
    sources = sorted(told - {"", "unknown"})
    return f"sun: {'from ' + ' and '.join(sources) if sources else 'source unknown'}; {cells}"


# Soil: reaction, drainage, texture, depth and water held, as far as assessed.

SOIL_MAPS = (
    ("ph", "Reaction (pH)", PH),
    ("drainage", "Drainage", WET),
    ("texture", "Texture", TEXTURE),
    ("depth_cm", "Depth of soil", DEPTH),
    ("available_water_mm", "Water it holds for plants", WATER),
)


RASTERS = (
    ("ph", "reaction"),
    ("drainage", "drainage"),
    ("sand_pct", "texture"),
    ("texture", "texture"),
    ("depth_cm", "depth"),
)


def soil_factors(plan: Plan) -> list[str]:
    """Return the soil factors that the study has layers for."""
    return [name for name, _, _ in SOIL_MAPS if name in plan.site.rasters]


def draw_soil(plan: Plan, folder: Path) -> list[Path]:
    """Draw the map ``soil``: a small map per factor, up to four, each with its classes in words."""
    shown = [f for f in SOIL_MAPS if f[0] in plan.site.rasters][:4]
    bounds, columns = town_bounds(plan), min(2, len(shown))
    missing = [FACTORS[name].heading for name, _, _ in SOIL_MAPS if name not in plan.site.rasters]
    sheet = Sheet(
        plan,
        "The soil",
        "Classes of the soil survey; what no layer tells stays unknown",
        bounds,
        size_in=size_for_panels(bounds, len(shown), columns),
    )
    axes = sheet.panels([title for _, title, _ in shown], columns)
    groups = []
    for ax, (name, title, classes) in zip(axes, shown, strict=True):
        groups.append((title, draw_classes(ax, plan.site.grid, plan.site.rasters[name], classes)))
        draw_base(ax, plan, faint=True, anchors=False, line_pt=0.2)
    y = sheet.legend(groups)
    if missing:
        sheet.notes([f"Not assessed, for want of layers: {', '.join(missing)}."], y - 0.05)
    sheet.caption(f"{_cells(plan)}; drawn at {plan.site.grid.cell_m:g} m")
    return sheet.save(folder, "soil")


def _cells(plan: Plan) -> str:
    """Return how coarse the rasters are that the soil comes from."""
    sizes: dict[str, list[str]] = {}
    for name, words in RASTERS:
        if name in plan.layers.rasters:
            size = f"{plan.layers.rasters[name].cell_m:g} m"
            if words not in sizes.setdefault(size, []):
                sizes[size].append(words)
    if not sizes:
        return "soil map or soil tests of the study"
    return "; ".join(f"{listed(words)} in cells of {size}" for size, words in sizes.items())


# Closed ground: where nothing can be planted, and why; for flowers and for trees side by side.

VIRIDIS = colormaps["viridis"]
GROUPS: tuple[tuple[str, tuple[str, ...], float, str | None], ...] = (
    ("buildings and room to walls", ("building",), 0.0, None),
    ("paving and its edge", ("paving",), 0.3, None),
    ("edges of yards, fences, streets", ("boundary", "fence", "street", "busy_road"), 0.55, None),
    (
        "trees, roots, plants, lawn and things that stay",
        ("trunk", "plant", "keep", "lawn", "told"),
        0.75,
        None,
    ),
    ("buried lines, wires, septic fields", ("buried", "wires", "septic", "septic_somewhere"), 0.88, "////"),
    ("water, downspouts and steep ground", ("water", "downspout", "steep"), 0.96, "...."),
)
"""Words, keys of closed ground, place on the colour map, hatch."""

NOT_TOLD = "#d9d6cc"
"""Fill of what is not shown: neither open nor closed."""

FORMS = (("herb", "For flowers and grasses"), ("tree", "For trees"))


def draw_closed(plan: Plan, folder: Path) -> list[Path]:
    """Draw the map ``closed-ground``."""
    bounds = town_bounds(plan)
    wide = bounds[2] - bounds[0] > 1.4 * (bounds[3] - bounds[1])
    sheet = Sheet(
        plan,
        "Where nothing can be planted, and why",
        "White is open ground; where several reasons meet, the first in the list shows. Shrubs lie between.",
        bounds,
        size_in=size_for_panels(bounds, 2, 1 if wide else 2),
    )
    closed = plan.site.closed_ground
    seen: dict[str, Any] = {}
    for ax, (form, _) in zip(
        sheet.panels([t for _, t in FORMS], columns=1 if wide else 2), FORMS, strict=True
    ):
        hidden = _hidden(plan)
        draw_shapes(ax, plan.yards.geometry[hidden], facecolors=NOT_TOLD, edgecolors="none", zorder=0.9)
        draw_shapes(ax, plan.yards.geometry[~hidden], facecolors="#ffffff", edgecolors="none", zorder=1)
        mine = closed[closed["growth_form"].isin([form, "all"])]
        group = mine["what"].map(group_of)
        for k, (words, _, at, hatch) in reversed(list(enumerate(GROUPS))):
            shapes = mine.geometry[group == k]
            if len(shapes):
                look = {"facecolors": VIRIDIS(at), "edgecolors": "#ffffff" if hatch else "none"}
                draw_shapes(ax, shapes, hatch=hatch, linewidths=0.0, zorder=2, **look)
                edge = "#ffffff" if hatch else "#8a877c"
                seen.setdefault(words, mpl.patches.Patch(fc=VIRIDIS(at), ec=edge, hatch=hatch, lw=0.3))
        ground = draw_base(ax, plan, faint=True, anchors=False, line_pt=0.3)
    reasons = [(seen[w], w) for w, *_ in GROUPS if w in seen]
    if _hidden(plan).any():
        reasons.append((mpl.patches.Patch(fc=NOT_TOLD, ec="none"), "yards that are not shown"))
    y = sheet.legend([("Closed because of", reasons), ("The ground", ground)])
    sheet.notes([_told(plan), *_cautions(plan)], y - 0.1)
    sheet.caption("outlines of the study's layers, with setbacks as the study sets them")
    return sheet.save(folder, "closed-ground")


def group_of(what: str) -> int:
    """Return the group of a key of closed ground."""
    return next(k for k, (_, keys, _, _) in enumerate(GROUPS) if what in keys)


def _told(plan: Plan) -> str:
    if not plan.site.placeable:
        return "No building outlines were given: this is what is closed at least."
    hidden = _hidden(plan)
    shown = plan.yards[~hidden]
    herbs = plan.open_ground[plan.open_ground["growth_form"] == "herb"]
    open_m2 = herbs.loc[herbs["yard_id"].isin(shown["yard_id"]), "open_m2"].sum()
    share = open_m2 / shown.geometry.area.sum() if len(shown) else 0.0
    whose = "the ground of the yards shown" if hidden.any() else "the yards' ground"
    return f"Open for flowers and grasses: {100 * share:.0f} % of {whose}."


def _hidden(plan: Plan) -> NDArray[np.bool_]:
    """Return which rows of the yards are blocks of yards that are not shown."""
    return (plan.yards["role"] == "block").to_numpy(bool)


def _cautions(plan: Plan) -> list[str]:
    closed = plan.site.closed_ground
    texts = closed.loc[closed["what"].isin(["buried", "wires"]), "caution"].fillna("").astype(str)
    units = Units(plan.study.report.units)
    return [units.told(plain(t, 150)) for t in dict.fromkeys(texts) if t][:2]


# What each yard offers: the sun and soil that its sheet goes by, one small map per factor.

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
    missing = [FACTORS[name].heading for name, _, _, _ in PANELS if name not in plan.site.assessed]
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

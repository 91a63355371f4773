"""Soil: reaction, drainage, texture, depth and water held, as far as assessed."""

from __future__ import annotations

from pathlib import Path

from habitat.report.map_base import draw_base, town_bounds
from habitat.report.map_classes import DEPTH, PH, TEXTURE, WATER, WET, draw_classes
from habitat.report.map_style import Sheet, size_for_panels
from habitat.report.plan import Plan
from habitat.report.words import NEED_WORDS, listed

FACTORS = (
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
    return [name for name, _, _ in FACTORS if name in plan.site.rasters]


def draw_soil(plan: Plan, folder: Path) -> list[Path]:
    """Draw the map ``soil``: a small map per factor, up to four, each with its classes in words."""
    shown = [f for f in FACTORS if f[0] in plan.site.rasters][:4]
    bounds, columns = town_bounds(plan), min(2, len(shown))
    missing = [NEED_WORDS[name] for name, _, _ in FACTORS if name not in plan.site.rasters]
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

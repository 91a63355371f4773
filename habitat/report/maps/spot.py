"""Why a bed is dark: what stands around it, and the sun's ways over the season, on plain axes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib import colormaps

from habitat.errors import ParameterError
from habitat.planting.drawing.shade import tall_plants, with_plan_trees
from habitat.report.maps.base import halo
from habitat.report.maps.style import INK, PANEL_IN, RULE, Sheet
from habitat.report.plan import Plan
from habitat.report.words.months import month_words
from habitat.report.words.numbers import Units, number
from habitat.report.words.text import plain
from habitat.site.yards import COUNTED
from habitat.sun.horizon import HorizonView, horizon_view
from habitat.terms import MONTHS

VIRIDIS = colormaps["viridis"]
FAR_OFF_H = 1.0
"""Hours of sun between a bed's figure and the view from it that are told: judgement."""

COMPASS = {0: "N", 45: "NE", 90: "E", 135: "SE", 180: "S", 225: "SW", 270: "W", 315: "NW", 360: "N"}


def darkest_bed(plan: Plan) -> Any:
    """Return the row of the bed with least sun whose sun is known, the first of equals; None without one."""
    beds = plan.beds
    if beds.empty or not beds["sun_h_mean"].notna().any():
        return None
    return beds.sort_values(["sun_h_mean", "bed_id"], kind="stable").iloc[0]


def can_look_up(plan: Plan) -> bool:
    """Return whether the site knows heights to look at the sky from a bed."""
    return plan.site.relief is not None and darkest_bed(plan) is not None


def draw_spot(plan: Plan, folder: Path) -> list[Path]:
    """Draw the figure ``dark-bed``: azimuth across, height up; lit parts of the sun's ways are thick.

    Nothing is drawn where the ground under the bed has no known height.
    """
    bed = darkest_bed(plan)
    spot = _spot(plan, bed)
    try:
        site = with_plan_trees(plan.site, plan.plant_points, plan.knowledge)
        view = horizon_view(*site.heights(), spot.x, spot.y)
    except ParameterError:
        return []
    first, last = plan.study.study.sun_months
    months = month_words(range(first, last + 1))
    sheet = Sheet(
        plan,
        f"Why bed {int(bed.bed_number)} of yard {plain(bed.yard_id, 20)} is dark",
        f"What stands around a plant in its middle once planned trees have grown; "
        f"mean of the whole bed {number(bed.sun_h_mean, 1, 'h')} of sun a day, {months}",
        size_in=(11.5, 6.0),
    )
    ax = sheet.axes(1.0, 1.25, sheet.width - PANEL_IN - 1.35, sheet.height - 2.55)
    _sky(ax, view)
    shown = _tracks(ax, view)
    marks = [
        (mpl.patches.Patch(fc="#cfcabd", ec=INK, lw=0.8), "what stands around, leaves on"),
        (mpl.lines.Line2D([], [], color=INK, lw=0.9, ls=(0, (2, 2))), "the same, leaves off"),
    ]
    y = sheet.legend([("Around the bed", marks), ("The sun's way", shown)])
    sheet.notes([*_told(plan, view), *_corrected(plan, bed, view)], y - 0.1)
    sheet.caption("heights of the study; mid-month days; true north")
    return sheet.save(folder, "dark-bed")


def _spot(plan: Plan, bed: Any) -> Any:
    """Return where to look up from: the low plant nearest to the bed's middle, else the middle itself."""
    middle = bed.geometry.representative_point()
    points = plan.plant_points
    low = points[(points["bed_id"] == bed.bed_id) & ~points["plant"].isin(tall_plants(plan.knowledge))]
    if low.empty:
        return middle
    away = low.geometry.distance(middle).round(6)
    return low.geometry.loc[away.sort_values(kind="stable").index[0]]


def _sky(ax: Any, view: HorizonView) -> None:
    azimuth = np.append(view.azimuth_deg, 360.0)
    around, bare = (np.append(v, v[0]) for v in (view.horizon_deg, view.bare_deg))
    ax.fill_between(azimuth, 0, around, facecolor="#cfcabd", edgecolor=INK, lw=0.8, zorder=2)
    ax.plot(azimuth, bare, color=INK, lw=0.9, ls=(0, (2, 2)), zorder=2.5)
    ax.set(xlim=(30, 330), ylim=(0, 90))
    ax.set_xticks([k for k in COMPASS if 30 <= k <= 330], [COMPASS[k] for k in COMPASS if 30 <= k <= 330])
    ax.set_yticks(range(0, 91, 15), [f"{k}°" for k in range(0, 91, 15)])
    ax.set_ylabel("height above the level")
    ax.set_xlabel("direction from the bed")
    ax.grid(color=RULE, lw=0.5, zorder=0)
    ax.set_axisbelow(True)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def _tracks(ax: Any, view: HorizonView) -> list[tuple[Any, str]]:
    """Draw the sun's way of up to four months of the season, with its month on it; return legend entries."""
    months = sorted(view.tracks)
    chosen = sorted({months[round(k)] for k in np.linspace(0, len(months) - 1, min(4, len(months)))})
    entries = []
    for n, month in enumerate(chosen):
        track = view.tracks[month]
        colour = VIRIDIS(0.55 * n / max(len(chosen) - 1, 1))
        azimuth, height, light = track.azimuth_deg, track.elevation_deg, track.light
        ax.plot(azimuth, height, color=colour, lw=0.8, zorder=3)
        for part, dashes in ((light == 1, "solid"), ((light > 0) & (light < 1), (0, (0.6, 0.6)))):
            gaps = np.where(part, height, np.nan)
            ax.plot(azimuth, gaps, color=colour, lw=3.4, zorder=4, ls=dashes, solid_capstyle="butt")
        if len(azimuth):
            _name(ax, MONTHS[month - 1], float(azimuth[np.argmax(height)]), float(height.max()), colour)
        handle = mpl.lines.Line2D([], [], color=colour, lw=3.0)
        entries.append((handle, f"{MONTHS[month - 1]}: sun there {number(track.hours, 1, 'h')}"))
    return entries


def _name(ax: Any, month: str, azimuth: float, height: float, colour: Any) -> None:
    """Write the month under the top of the sun's way, so that nobody has to tell colours apart."""
    look = {"size": 7.5, "color": colour, "ha": "center", "va": "top", "path_effects": halo(), "zorder": 5}
    ax.text(azimuth, height - 0.6, month, **look)


def _corrected(plan: Plan, bed: Any, view: HorizonView) -> list[str]:
    """Say why the bed's figure is far from this view where people counted sun in a yard near it."""
    first, last = plan.study.study.sun_months
    here = [track.hours for month, track in view.tracks.items() if first <= month <= last]
    counted = plan.site.yards["sun_h_source"].astype(str).str.contains(COUNTED).any()
    if not counted or not here or abs(float(np.mean(here)) - bed.sun_h_mean) <= FAR_OFF_H:
        return []
    return ["The bed's mean is corrected by hours of sun that people counted near it; this view is not."]


def _told(plan: Plan, view: HorizonView) -> list[str]:
    far = view.distance_m[(view.azimuth_deg > 90) & (view.azimuth_deg < 270)]
    lines = ["Thick where the sun reaches the bed, thin where something stands before it."]
    if any(((t.light > 0) & (t.light < 1)).any() for t in view.tracks.values()):
        lines.append("Broken where it comes through crowns without leaves: that light counts in part.")
    if view.under_cover:
        lines.append("A crown or roof stands right over it.")
    if np.isfinite(far).any():
        near = Units(plan.study.report.units).distance(float(np.nanmedian(far)))
        lines.append(f"What hides the southern sky stands about {near} away.")
    return lines

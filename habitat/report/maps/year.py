"""The year of all butterflies of a plan against the bloom of its plants, as one figure."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib import colormaps

from habitat.knowledge import year_gaps
from habitat.knowledge.looks import WINTER_KEEP
from habitat.knowledge.year import broods, flight_months, winter_place
from habitat.report.maps.style import INK, PANEL_IN, QUIET, RULE, Sheet
from habitat.report.plan import Plan
from habitat.report.rows import each_row, row_of
from habitat.report.words.months import SHORT_MONTHS, month_set
from habitat.report.words.text import listed, plain
from habitat.terms import ANCHOR

VIRIDIS = colormaps["viridis"]
FLY, EAT, REST = VIRIDIS(0.8), VIRIDIS(0.15), QUIET
BAR = VIRIDIS(0.5)
WINTER_MONTHS = (10, 11, 12, 1, 2, 3, 4)


def butterflies_of_plan(plan: Plan) -> list[str]:
    """Return the butterflies that have habitat somewhere in the yards, by common name."""
    table = plan.yard_butterflies
    if table.empty:
        return []
    rows = table[(table["habitat_m2"] > 0) & (table["role"] != ANCHOR)]
    known = [b for b in rows["butterfly"].unique() if b in plan.knowledge.butterflies.index]
    return sorted(known, key=lambda b: str(plan.knowledge.butterflies["common_name"].get(b, b)))


def bloom_kinds(plan: Plan) -> np.ndarray[Any, np.dtype[np.int64]]:
    """Return how many kinds of planned nectar plants flower in each month, shape (12,)."""
    kinds: list[set[str]] = [set() for _ in range(12)]
    for row in each_row(plan.plantings):
        if "nectar" in str(row.purpose):
            for month in month_set(str(row.bloom_months)):
                kinds[month - 1].add(row.plant)
    return np.array([len(k) for k in kinds])


def draw_year(plan: Plan, folder: Path) -> list[Path]:
    """Draw the figure ``year``: half months across, a band per butterfly, kinds in bloom below."""
    names = butterflies_of_plan(plan)
    high = max(5.2, 3.9 + 0.38 * len(names))
    sheet = Sheet(
        plan,
        "The year of the butterflies, and what flowers for them",
        "All yards of the plan together; good to half a month",
        size_in=(11.5, high),
    )
    left, wide = 2.35, sheet.width - PANEL_IN - 0.3 - 2.35
    top = sheet.axes(left, 2.35, wide, high - 3.5)
    bottom = sheet.axes(left, 0.95, wide, 1.25)
    for ax in (top, bottom):
        _months(ax)
    top.set_xticks([])
    _bands(top, plan, names)
    kinds = bloom_kinds(plan)
    _bloom(bottom, kinds)
    marks = [
        (mpl.patches.Patch(fc=FLY), "adults fly"),
        (mpl.patches.Patch(fc=EAT), "caterpillars eat leaves"),
        (mpl.lines.Line2D([], [], color=REST, lw=2.2, ls=(0, (1, 1))), "rests here in winter"),
    ]
    y = sheet.legend([("Butterflies", marks), ("Plants", [(mpl.patches.Patch(fc=BAR), "kinds in bloom")])])
    sheet.notes(_told(plan, names), y - 0.1)
    sheet.caption("butterfly and plant tables; plantings of the plan")
    return sheet.save(folder, "year")


def _months(ax: Any) -> None:
    ax.set(xlim=(0, 24))
    ax.set_xticks([2 * k + 1 for k in range(12)], SHORT_MONTHS)
    ax.tick_params(length=0, labelsize=8.5)
    for k in range(0, 25, 2):
        ax.axvline(k, color=RULE, lw=0.5, zorder=0)
    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)


def _bands(ax: Any, plan: Plan, names: list[str]) -> None:
    ax.set(ylim=(len(names) - 0.4, -0.6))
    labels = []
    for k, name in enumerate(names):
        row = row_of(plan.knowledge.butterflies, name)
        labels.append(plain(row["common_name"], 30))
        found = broods(row)
        feeding = frozenset[int]().union(*(b.feeding for b in found))
        flies = {2 * (m - 1) + half for m in flight_months(row) for half in (0, 1)}
        rest = frozenset[int]()
        for brood in found:
            if brood.winters_as:
                rest |= getattr(brood, brood.winters_as)
        rest = frozenset(s for s in rest if s // 2 + 1 in WINTER_MONTHS) - feeding - flies
        for slots, at, thick, colour in ((flies, -0.2, 0.22, FLY), (feeding, 0.04, 0.3, EAT)):
            pieces = [(s, 1) for s in sorted(slots)]
            ax.broken_barh(pieces, (k + at, thick), facecolors=colour, lw=0, zorder=3)
        for slot in sorted(rest):
            ax.plot((slot + 0.05, slot + 0.95), (k + 0.19,) * 2, color=REST, lw=2.2, ls=(0, (1, 1)), zorder=2)
    ax.set_yticks(range(len(names)), labels)


def _bloom(ax: Any, kinds: np.ndarray[Any, np.dtype[np.int64]]) -> None:
    ax.bar(np.arange(12) * 2 + 1, kinds, width=1.6, color=BAR, zorder=2)
    for month, count in enumerate(kinds):
        if count:
            ax.text(2 * month + 1, count, f"{count}", ha="center", va="bottom", size=8, color=INK)
    ax.set(ylim=(0, max(int(kinds.max()), 1) * 1.25))
    ax.set_yticks([])
    ax.set_ylabel("kinds in bloom", rotation=0, ha="right", va="center", size=9)


def _told(plan: Plan, names: list[str]) -> list[str]:
    """Return when adults lack nectar and broods lack leaf in all yards together, and what not to tidy."""
    common = {name: plain(row_of(plan.knowledge.butterflies, name)["common_name"], 30) for name in names}
    grown = [*plan.plantings["plant"], *plan.existing_plants["plant"].dropna()]
    gaps = year_gaps(plan.knowledge, names, [p for p in grown if p in plan.knowledge.plants.index])
    dry: dict[str, list[str]] = {}
    for row in each_row(gaps[gaps["gap"] == "nectar"]):
        dry.setdefault(row.when, []).append(common[row.butterfly])
    told = [f"Nothing flowers in {when} for {listed(who)}." for when, who in dry.items()]
    told = told or ["Something flowers in every month in which these adults fly."]
    told += [
        f"Brood {row.brood} of {common[row.butterfly]} finds no leaves ({row.when})."
        for row in each_row(gaps[gaps["gap"] == "leaf"])
    ]
    return [*told, *_kept(plan, common)]


def _kept(plan: Plan, common: dict[str, str]) -> list[str]:
    """Return what must not be tidied before spring, and for whom."""
    wintering: dict[str, list[str]] = {}
    for name, who in common.items():
        place = winter_place(row_of(plan.knowledge.butterflies, name))
        if place in WINTER_KEEP:
            wintering.setdefault(place, []).append(who)
    return [
        f"{words.capitalize()} until spring has stayed warm: {listed(wintering[place])}."
        for place, words in WINTER_KEEP.items()
        if place in wintering
    ]

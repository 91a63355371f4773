"""The corridor of one butterfly: breeding ground, links, the likeliest chain and its weakest step."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib import colormaps
from matplotlib.collections import LineCollection

from habitat.planting.anchors import LIKELY, UNKNOWN
from habitat.remarks import Remark
from habitat.report.maps.base import draw_base, draw_locator, draw_shapes, group_bounds
from habitat.report.maps.labels import Label, place_labels
from habitat.report.maps.style import INK, PAPER, QUIET, Sheet
from habitat.report.maps.town import label_anchors
from habitat.report.plan import Plan
from habitat.report.rows import each_row
from habitat.report.words.en import voice
from habitat.report.words.figures import STATES, figure_words
from habitat.report.words.numbers import Units, share
from habitat.report.words.text import file_names, listed, plain
from habitat.terms import ANCHOR, CANDIDATE, PLANNED, anchor_id, anchor_name

VIRIDIS = colormaps["viridis"]
STANDING_LOOK, PLANNED_LOOK, CANDIDATE_LOOK = VIRIDIS(0.3), VIRIDIS(0.62), VIRIDIS(0.93)
WEAKEST = "#c2410c"
STATE = "members"
CHAIN_STATES = ("members", "everyone", "today")


def corridor_drawings(plan: Plan) -> list[partial[list[Path]]]:
    """Return a drawing for each butterfly that was scored, each a function of plan and folder."""
    names = scored_butterflies(plan)
    files = file_names([file_word(plan, n) for n in names], "corridor-")
    return [partial(_draw_corridor, butterfly=n, name=files[file_word(plan, n)]) for n in names]


def scored_butterflies(plan: Plan) -> list[str]:
    """Return the butterflies of the headline, in its order."""
    return [str(name) for name in plan.headline.get("butterflies", {})]


def file_word(plan: Plan, butterfly: str) -> str:
    """Return a butterfly's common name as part of a file name."""
    names = plan.knowledge.butterflies["common_name"]
    return plain(names.get(butterfly, butterfly), 60).replace(" ", "-")


def _draw_corridor(plan: Plan, folder: Path, *, butterfly: str, name: str) -> list[Path]:
    common = plain(plan.knowledge.butterflies["common_name"].get(butterfly, butterfly), 60)
    sheet = Sheet(plan, f"The corridor of the {common}", _score_words(plan, butterfly), group_bounds(plan))
    ax = sheet.main_map()
    ground = draw_base(ax, plan)
    held = _habitats(ax, plan, butterfly)
    label_anchors(ax, plan)
    draw_locator(ax, plan)
    spots = spots_of(plan, butterfly)
    links, chain = _rows_of(plan.links, butterfly, (STATE,)), _rows_of(plan.chain, butterfly, CHAIN_STATES)
    if plan.breaks.get(butterfly, {}).get("unlimited"):
        links = links.iloc[:0]  # it gets everywhere: a web of lines tells nothing
    links = _holding_together(links)
    places = [*_places(ax, plan, butterfly, spots), *_stones(ax, plan, butterfly, spots, (links, chain))]
    ways = [*_links(ax, links, spots), *_chain(ax, plan, chain, spots)]
    y = sheet.legend([("Breeding ground", places), ("Links", ways), ("The ground", [*held, *ground])])
    sheet.notes(_told(plan, butterfly, ways), y - 0.1)
    sheet.caption(f"movement distances of the butterfly tables (guesses for most); {_reach(plan, butterfly)}")
    return sheet.save(folder, name)


def _score_words(plan: Plan, butterfly: str) -> str:
    entry, units = plan.headline["butterflies"][butterfly], Units(plan.study.report.units)
    states = [s for s in STATES if s in entry and (s != "invited" or len(plan.invitations))]
    broods = [entry[s].get("broods") for s in states]
    told = [] if None in broods else [f"broods a year in yards {', '.join(f'{b:,}' for b in broods)}"]
    areas = [
        figure_words(entry, s, "equivalent_area_m2", units).partition(" (")[0].rpartition(" ") for s in states
    ]
    numbers = ", ".join(a[0].removesuffix(" sq") for a in areas)
    told.append(f"linked ground {numbers} {'sq ft' if units.us else 'm²'}")
    return f"Today, with members' plans{', with those to ask' if len(states) > 2 else ''}: {'; '.join(told)}"


def spots_of(plan: Plan, butterfly: str) -> dict[str, Any]:
    """Return where each yard's breeding ground is, in its middle; the yard's own middle where it has none."""
    spots = dict(zip(plan.yards["yard_id"], plan.yards.geometry.representative_point(), strict=True))
    ground = plan.breeding
    if ground is not None and len(ground):
        mine = ground[(ground["butterfly"] == butterfly) & ground["yard_id"].isin(spots)]
        mine = mine[~mine.geometry.is_empty].sort_values("state", kind="stable")  # "planned" wins
        spots |= dict(zip(mine["yard_id"], mine.geometry.centroid, strict=True))
    return spots


def _between(row: Any, spots: dict[str, Any]) -> Any:
    """Return a way as points, from middle to middle of breeding grounds; at habitats from their edge.

    A way that goes by ground keeps its bends.
    """
    line = np.asarray(row.geometry.coords)[:, :2]
    first, last = (
        np.array([spots[name].x, spots[name].y]) if name in spots else line[at]
        for name, at in ((row.from_yard, 0), (row.to_yard, -1))
    )
    return np.vstack([first, line if len(line) > 2 else line[:0], last])


def _places(ax: Any, plan: Plan, butterfly: str, spots: dict[str, Any]) -> list[tuple[Any, str]]:
    """Draw a disc per yard that breeds, its area by its habitat; return legend entries."""
    table = plan.yard_butterflies
    rows = table[(table["butterfly"] == butterfly) & (table["role"] != ANCHOR)]
    most = max(float(rows["habitat_m2"].max()) if len(rows) else 0.0, 1e-9)
    kinds: dict[str, list[tuple[float, float, float]]] = {"standing": [], "planned": [], "candidate": []}
    for row in each_row(rows):
        if row.yard_id not in spots:
            continue
        point = spots[row.yard_id]
        planned = row.role in PLANNED and row.habitat_m2 > row.habitat_before_m2
        kind = ("candidate" if row.role == CANDIDATE else "planned") if planned else "standing"
        worth = row.habitat_m2 if planned else row.habitat_before_m2
        if worth > 0:
            kinds[kind].append((point.x, point.y, 10.0 + 110.0 * worth / most))
    looks = (
        ("standing", STANDING_LOOK, "yards where it can breed today"),
        ("planned", PLANNED_LOOK, "with a member's plan"),
        ("candidate", CANDIDATE_LOOK, "with the plan of a yard that could join"),
    )
    entries: list[tuple[Any, str]] = []
    for kind, colour, words in looks:
        if kinds[kind]:
            x, y, size = np.array(kinds[kind]).T
            ax.scatter(x, y, s=size, c=[colour], edgecolors=INK, linewidths=0.5, zorder=14.5, alpha=0.95)
            mark = mpl.lines.Line2D([], [], marker="o", ms=6.5, mfc=colour, mec=INK, mew=0.5, ls="none")
            entries.append((mark, f"{words} ({len(x)})"))
    if entries:
        mark = mpl.lines.Line2D([], [], marker="o", ms=10, mfc="none", mec=INK, mew=0.6, ls="none")
        entries.append((mark, f"largest disc: {Units(plan.study.report.units).area(most)}"))
    return entries


CONFIRMED_LOOK, LIKELY_LOOK = "#7fae5c", "#d9c46a"


def _habitats(ax: Any, plan: Plan, butterfly: str) -> list[tuple[Any, str]]:
    """Tint habitat that is there already by what is known of breeding in it; return legend entries."""
    frame = plan.layers.frame("anchors")
    if frame is None or not len(frame):
        return []
    table = plan.yard_butterflies
    rows = table[(table["butterfly"] == butterfly) & (table["role"] == ANCHOR)]
    kinds = (
        ("confirmed", rows["habitat_m2"] > 0, CONFIRMED_LOOK, None),
        ("likely", rows["missing"] == LIKELY, LIKELY_LOOK, "////"),
    )
    entries: list[tuple[Any, str]] = []
    for words, mine, colour, hatch in kinds:
        ids = set(rows.loc[mine, "yard_id"])
        shapes = frame.geometry[[anchor_id(str(n)) in ids for n in frame["name"]]]
        if len(shapes):
            look = {"facecolors": colour, "edgecolors": INK, "hatch": hatch, "alpha": 0.75}
            draw_shapes(ax, shapes, zorder=4.5, **look)
            patch = mpl.patches.Patch(fc=colour, ec=INK, hatch=hatch, lw=0.5)
            entries.append((patch, f"habitat in which breeding is {words}"))
    return entries


def _rows_of(table: Any, butterfly: str, states: Sequence[str]) -> Any:
    """Return a butterfly's rows of links or chains that have a line, of the first state that has any."""
    if not len(table):
        return table
    mine = table[(table["butterfly"] == butterfly) & ~(table.geometry.isna() | table.geometry.is_empty)]
    state = next((s for s in states if (mine["state"] == s).any()), "")
    return mine[mine["state"] == state]


def _stones(
    ax: Any, plan: Plan, butterfly: str, spots: dict[str, Any], ways: Sequence[Any]
) -> list[tuple[Any, str]]:
    """Mark yards at which drawn ways meet though nothing breeds there: adults stop for nectar."""
    table = plan.yard_butterflies[plan.yard_butterflies["butterfly"] == butterfly]
    breed = set(table.loc[table[["habitat_m2", "habitat_before_m2"]].max(axis=1) > 0, "yard_id"])
    ends = {str(y) for rows in ways if len(rows) for c in ("from_yard", "to_yard") for y in rows[c]}
    found = [spots[y] for y in sorted(ends - breed) if y in spots]
    if not found:
        return []
    look: dict[str, Any] = {"marker": "s", "s": 11, "facecolors": PAPER, "edgecolors": INK, "linewidths": 0.6}
    ax.scatter([p.x for p in found], [p.y for p in found], zorder=15, **look)
    mark = mpl.lines.Line2D([], [], marker="s", ms=3.5, mfc=PAPER, mec=INK, mew=0.6, ls="none")
    return [(mark, f"nectar only, a stop on the way ({len(found)})")]


def _holding_together(links: Any) -> Any:
    """Return the fewest links that keep all places in their groups: the likeliest ones, without a loop."""
    if not len(links):
        return links
    group: dict[str, str] = {}

    def root(place: str) -> str:
        while group.get(place, place) != place:
            place = group[place]
        return place

    kept = []
    for row in links.sort_values("passage", ascending=False, kind="stable").itertuples():
        one, two = root(str(row.from_yard)), root(str(row.to_yard))
        if one != two:
            group[two] = one
            kept.append(row.Index)
    return links.loc[sorted(kept)]


def _links(ax: Any, links: Any, spots: dict[str, Any]) -> list[tuple[Any, str]]:
    if not len(links):
        return []
    lines = [_between(row, spots) for row in each_row(links)]
    strength = links["passage"].to_numpy(float)
    colours = [(*mpl.colors.to_rgb(QUIET), 0.25 + 0.6 * p) for p in strength]
    ax.add_collection(
        LineCollection(lines, colors=colours, linewidths=0.4 + 1.3 * strength, zorder=9), autolim=False
    )
    return [
        (
            mpl.lines.Line2D([], [], color=QUIET, lw=1.0),
            "links that hold its places together, with the members' plans",
        )
    ]


def _chain(ax: Any, plan: Plan, chain: Any, spots: dict[str, Any]) -> list[tuple[Any, str]]:
    """Draw the likeliest chain, of the members' state if it has one, and mark its weakest step."""
    if not len(chain):
        return []
    rows = each_row(chain.sort_values("step", kind="stable"))
    labels, drawn = [], []
    for row in rows:
        xy = _between(row, spots)
        drawn.append(xy)
        ax.plot(*xy.T, color=PAPER, lw=5.0, zorder=13, solid_capstyle="round")
        colour, dash = (WEAKEST, (0, (2.2, 1.1))) if row.weakest else (INK, "solid")
        ax.plot(*xy.T, color=colour, lw=2.6, ls=dash, zorder=14, solid_capstyle="round")
        if row.weakest:
            labels.append(_weak_label(plan, row, xy))
    place_labels(ax, labels, off=drawn)
    whose = {"members": "with the members' plans", "everyone": "if everyone joins", "today": "today"}
    who = whose[rows[0].state]
    who += "; at one end breeding is likely" if getattr(rows[0], "ends", "") == "likely" else ""
    entries = [(mpl.lines.Line2D([], [], color=INK, lw=2.6), f"likeliest chain between habitats, {who}")]
    if labels:
        line = mpl.lines.Line2D([], [], color=WEAKEST, lw=2.6, ls=(0, (2.2, 1.1)))
        entries.append((line, "its weakest step"))
    return entries


def _weak_label(plan: Plan, row: Any, xy: Any) -> Label:
    far = Units(plan.study.report.units).distance(float(row.distance_m))
    middle = xy.mean(axis=0)
    by_ground = " by ground" if plan.study.connectivity.distance == "by ground" else ""
    words = f"weakest step: {far}{by_ground}, {_odds(row)}"
    return Label(float(middle[0]), float(middle[1]), words, 9.0, 8.0, True)


def _odds(row: Any) -> str:
    """Return the chance of getting across, with its range over how far butterflies move."""
    ends = (getattr(row, f"passage_{reach}_reach", math.nan) for reach in ("low", "high"))
    low, high = (row.passage if e is None or math.isnan(e) else float(e) for e in ends)
    return f"{share(row.passage, low, high)} get across"


def _reach(plan: Plan, butterfly: str) -> str:
    asked = plan.study.connectivity.median_m.get(butterfly)
    table = plan.knowledge.butterflies["typical_movement_median_m"]
    median = asked if asked is not None else float(table.get(butterfly, math.nan))
    return f"half move farther than {Units(plan.study.report.units).distance(median)}"


def _told(plan: Plan, butterfly: str, ways: list[Any]) -> list[str]:
    say = voice(plan.study.report)
    sentences = [say(s) for s in plan.sentences if _mentions(plan, s, butterfly)][:2]
    told = [*(plain(s, 400) for s in sentences), _ends(plan, butterfly)]
    if any("chain" in words for _, words in ways):
        return told
    if plan.breaks.get(butterfly, {}).get("unlimited"):
        return told  # the sentence says that it gets everywhere
    return [*told, plain(say(plan.breaks.get(butterfly, {}).get("words")), 400) or NO_CHAIN]


NO_CHAIN = (
    "No chain is drawn: that takes two habitats in which somebody says that it breeds, and links between."
)


def _ends(plan: Plan, butterfly: str) -> str:
    """Say in which existing habitats it breeds, and where that is not known."""
    table = plan.yard_butterflies
    rows = table[(table["butterfly"] == butterfly) & (table["role"] == ANCHOR)]
    names = {
        "holds": [plain(anchor_name(y)) for y in rows.loc[rows["habitat_m2"] > 0, "yard_id"]],
        "likely": [plain(anchor_name(y)) for y in rows.loc[rows["missing"] == LIKELY, "yard_id"]],
        "unknown": [plain(anchor_name(y)) for y in rows.loc[rows["missing"] == UNKNOWN, "yard_id"]],
    }
    if not len(rows):
        return ""
    told = (
        f"It breeds in {listed(names['holds'])}" if names["holds"] else "It is known from no existing habitat"
    )
    told += f"; likely in {listed(names['likely'])}" if names["likely"] else ""
    return f"{told}; nobody has said for {listed(names['unknown'])}." if names["unknown"] else f"{told}."


def _mentions(plan: Plan, sentence: Remark | str, butterfly: str) -> bool:
    if isinstance(sentence, Remark):
        return butterfly in sentence.subject.butterflies
    name = str(plan.knowledge.butterflies["common_name"].get(butterfly, butterfly))
    return name.casefold() in sentence.casefold()

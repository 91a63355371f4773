"""What a coordinator must do when one run has followed another: sheets to hand out, plants to buy."""

from __future__ import annotations

from collections import Counter
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.planting.settled import living_of
from habitat.report.lists.buying import in_ground
from habitat.terms import DRAFT, MEMBER, PLANTED, REFUSED

Tables = dict[str, Any]


def to_do(one: Tables, two: Tables) -> dict[str, Any]:
    """Return what there is to do after the second of two runs of one group.

    Parameters
    ----------
    one, two
        Tables of plan.gpkg by name: yards, plantings, plant_points, beds, existing_plants.

    Returns
    -------
    dict
        hand_out : yards that take part whose sheet must be handed out: yard_id, address, why. take_back :
        yards whose plan is no more. buy : plant, common_name, form and how many more of it (fewer, if
        negative) than the first run asked for, spares not counted; what has been planted since counts for
        nothing. statuses : yards whose status changed. counts : yards by status, before and after. living :
        plants that live, by seasons in the ground, before and after.
    """
    return {
        "hand_out": _hand_out(one, two),
        "take_back": _take_back(one, two),
        "buy": _buy(one, two),
        "statuses": _statuses(one, two),
        "counts": {"before": _count(one), "after": _count(two)},
        "living": {"before": _ages(one), "after": _ages(two)},
    }


def _hand_out(one: Tables, two: Tables) -> list[dict[str, str]]:
    before, after = _sheets(one), _sheets(two)
    yards, out = _yards(two), []
    was, now = _joined(one), _joined(two)
    for yard in (y for y in yards.index if y in now):
        had = yard in before and yard in was
        if yard not in after or (had and after[yard] == before[yard]):
            continue
        why = _what(before[yard], after[yard]) if had else "its first sheet"
        out.append({"yard_id": str(yard), "address": str(yards["address"][yard]), "why": why})
    return out


def _what(old: dict[str, Any], new: dict[str, Any]) -> str:
    told = {
        "plants": "other plants or numbers",
        "living": "what lives and what died",
        "points": "plants in other places",
        "beds": "beds in other places",
    }
    return ", ".join(words for part, words in told.items() if old[part] != new[part])


def _take_back(one: Tables, two: Tables) -> list[dict[str, str]]:
    """Return yards that had a plan as members and have none any more."""
    before, after, was, now = _sheets(one), _sheets(two), _yards(one), _yards(two)
    joined = _joined(one)
    gone = [y for y in before if y not in after and y in joined]
    status = now["status"].to_dict()
    return [
        {
            "yard_id": str(y),
            "address": str(was["address"][y]),
            "why": status[y] if status.get(y) in REFUSED else "takes no part any more",
        }
        for y in gone
    ]


def _sheets(run: Tables) -> dict[str, dict[str, Any]]:
    """Return by yard what its sheet shows, sentences on the corridor left out."""
    out: dict[str, dict[str, Any]] = {}

    def of(yard: Any) -> dict[str, Any]:
        return out.setdefault(str(yard), {"plants": [], "points": [], "beds": [], "living": Counter()})

    columns = ["yard_id", "planting_id", "plant", "form", "count", "year"]
    for yard, *row in run["plantings"][columns].itertuples(index=False):
        of(yard)["plants"].append(tuple(map(str, row)))
    points = run["plant_points"]
    numbers = zip(points["yard_id"], points["plant"], points["key_number"], points.geometry, strict=True)
    for yard, plant, number, spot in numbers:
        of(yard)["points"].append((str(plant), str(number), round(spot.x, 3), round(spot.y, 3)))
    for yard, shape in zip(run["beds"]["yard_id"], run["beds"].geometry, strict=True):
        if shape is not None and not shape.is_empty:
            of(yard)["beds"].append(shape.normalize().wkb_hex)
    for yard, key in zip(*(_living(run)[c] for c in ("yard_id", "planting_id")), strict=True):
        of(yard)["living"][str(key)] += 1
    for sheet in out.values():
        for part in ("plants", "points", "beds"):
            sheet[part].sort()
    return out


def _yards(run: Tables) -> pd.DataFrame:
    table = pd.DataFrame(run["yards"]).drop_duplicates("yard_id").set_index("yard_id")
    for column in ("status", "address"):
        table[column] = table[column].fillna("").astype(str) if column in table else ""
    return table


def _joined(run: Tables) -> set[str]:
    """Return the yards for which lists are made: members with a plan, or all with one if none is a member."""
    yards, planned = _yards(run), {*run["plantings"]["yard_id"], *_living(run)["yard_id"]}
    members = set(yards.index[yards["role"] == MEMBER])
    return members & planned or planned


def _living(run: Tables) -> gpd.GeoDataFrame:
    return living_of(run["existing_plants"])


def _buy(one: Tables, two: Tables) -> list[dict[str, Any]]:
    """Return what is to be bought beyond what the first run asked for and nobody has planted yet."""
    status = _yards(two)["status"]
    done = set(status.index[status == PLANTED])
    needed, had = _wanted(two, set()), _wanted(one, done)
    more = {key: needed[key] - had[key] for key in {*needed, *had}}
    names = _common_names(one) | _common_names(two)
    rows = [
        {"plant": p, "common_name": names.get(p, ""), "form": f, "more": n} for (p, f), n in more.items() if n
    ]
    return sorted(rows, key=lambda r: (-int(r["more"]), str(r["plant"]), str(r["form"])))


def _common_names(run: Tables) -> dict[str, str]:
    rows = pd.DataFrame(run["plantings"])
    if "common_name" not in rows:
        return {}
    return dict(zip(rows["plant"].astype(str), rows["common_name"].fillna("").astype(str), strict=True))


def _wanted(run: Tables, but: set[str]) -> Counter[tuple[str, str]]:
    rows = pd.DataFrame(run["plantings"])
    rows = rows[rows["yard_id"].isin(_joined(run) - but) & ~in_ground(rows)]
    found: Counter[tuple[str, str]] = Counter()
    for plant, form, count in zip(rows["plant"], rows["form"], rows["count"], strict=True):
        found[str(plant), str(form)] += int(count)
    return found


def _statuses(one: Tables, two: Tables) -> list[dict[str, str]]:
    before, after = _yards(one)["status"], _yards(two)["status"]
    return [
        {"yard_id": str(y), "before": before.get(y, "") or DRAFT, "after": after[y]}
        for y in after.index
        if after[y] and after[y] != (before.get(y, "") or DRAFT)
    ]


def _count(run: Tables) -> dict[str, int]:
    status = _yards(run)["status"]
    return {str(word): int(n) for word, n in status[status != ""].value_counts(sort=False).items()}


def _ages(run: Tables) -> dict[str, int]:
    seasons = _living(run)["seasons"] if "seasons" in run["existing_plants"] else pd.Series(dtype=float)
    return {f"{int(age)}": int(n) for age, n in sorted(seasons.value_counts().items())}

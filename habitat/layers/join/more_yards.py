"""Yards beside the parcel file, by tape or sketch: where each stands, and what it adds to which layer."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry

from habitat.errors import LayerError
from habitat.layers.formats.raw import Draft
from habitat.layers.formats.vector import SHEETS, TEXT_TABLES
from habitat.layers.join.people import YardBook
from habitat.terms import MEMBER

ONLY_DRAWN = "only_drawn"
"""Detail of a layer that is made of drawings alone: it tells nothing of yards that nobody drew."""

MOST_FILES = 500
"""More sketches in one folder than this are a slip in the path: judgement."""

SAME_SHARE = 0.5
"""A drawn lot that lies by more than this share in one parcel is that parcel: judgement."""

NEIGHBOUR_M = 2000.0
"""A yard this far from all others is no neighbour of theirs: judgement, more than most butterflies move."""

NEAR_M = 10.0
"""What is drawn for a parcel may stand so far beside it: a neighbour's tree, a wire (judgement)."""

SIDES = {"north": (0.0, 1.0), "east": (1.0, 0.0), "south": (0.0, -1.0), "west": (-1.0, 0.0)}
HOW = (
    "Give latitude and longitude, or the parcel or address it is of, or the parcel that it stands beside, in "
    "rows that begin with setting"
)


@dataclass(slots=True)
class More:
    """One file: its path as named, its settings, and what is drawn in it, by layer."""

    where: str
    told: Mapping[str, str]
    drafts: dict[str, Draft]

    @property
    def placed(self) -> bool:
        """Whether it says where on Earth it is."""
        return {"latitude", "longitude"} <= set(self.told)

    @property
    def name(self) -> str:
        """What its lots are called, or the file."""
        lots = self.drafts.get("yards")
        return Path(self.where).stem if lots is None else "; ".join(map(str, lots.table["yard_id"]))

    def lots(self) -> BaseGeometry:
        """Return its lots as one shape, or all that is drawn where there is none."""
        of = self.drafts.get("yards")
        drafts = [of] if of is not None else list(self.drafts.values())
        return shapely.union_all([s for d in drafts if d.shapes is not None for s in d.shapes])

    def move(self, dx: float, dy: float) -> None:
        """Move all of it [m]."""
        for draft in self.drafts.values():
            if draft.shapes is not None:
                draft.shapes = shapely.transform(draft.shapes, lambda c: c + np.array([dx, dy]))


def more_files(path: Path, named: str) -> list[tuple[Path, str]]:
    """Return the tables that a path stands for, each with its name for messages: a file, or all of a folder.

    Raises
    ------
    LayerError
        If a folder holds no table, or very many.
    """
    if not path.is_dir():
        return [(path, named)]
    files = sorted(p for p in path.iterdir() if p.suffix.lower() in TEXT_TABLES | SHEETS and p.is_file())
    if not 0 < len(files) <= MOST_FILES:
        raise LayerError(
            f"the folder holds {len(files)} tables of yards" if files else "the folder holds no table (CSV)",
            named,
            "Save each yard's tape table or sketch in it, one file a yard",
        )
    return [(file, f"{named.rstrip('/')}/{file.name}") for file in files]


def join_more(drafts: dict[str, Draft], more: list[More], named: str) -> dict[str, BaseGeometry]:
    """Add what each file draws to the layers of the same names, in place, and tell where it stands.

    Parameters
    ----------
    drafts
        The layers, on the metric CRS; "yards" with settled ids. Gains "more_yards", a row per file.
    more
        The files, on the same CRS; those without a place lie wherever they were read to.
    named
        The path as the study names it.

    Returns
    -------
    dict
        Name -> outline of each lot that was drawn, where it stands; ``parcel_changes`` may split by them.
    """
    table = pd.DataFrame({"file": [m.where for m in more], "yard_id": [m.name for m in more]})
    account = Draft("more_yards", named, table, rows_in=len(more), own_format="tape")
    outlines: dict[str, BaseGeometry] = {}
    aside: dict[int, str] = {}
    known = _Known(drafts["yards"])
    for row, one in enumerate(more):
        try:
            parcel, told = _settle(one, drafts["yards"], known)
        except _PlaceError as error:
            aside[row] = f"{error} ({one.where})"
            continue
        lots = one.drafts.get("yards")
        if lots is not None and lots.shapes is not None:
            outlines |= dict(zip(lots.table["yard_id"], lots.shapes, strict=True))
        if parcel is not None:
            account.table.loc[row, "yard_id"] = parcel
            _hand_on_notes(one.drafts.pop("yards", None), account, row)
        else:
            _take_part(one, drafts["yards"], account, row)
            known.add(one.drafts["yards"])
        account.tell(f"{told} ({one.where})", row)
        for draft in one.drafts.values():
            _append(drafts, draft)
    account.set_aside(aside)
    drafts["more_yards"] = account
    return outlines


class _Known:
    """Yards to look up: those of the parcel file once for all files, and the few drawn since."""

    def __init__(self, yards: Draft) -> None:
        self.parcels, self.drawn = YardBook(yards.table, yards.details), YardBook(yards.table.iloc[:0], {})
        self.shapes = dict(
            zip(yards.table["yard_id"], () if yards.shapes is None else yards.shapes, strict=True)
        )
        self.lots: list[pd.DataFrame] = []

    def add(self, lots: Draft) -> None:
        """Add the lots of a file, where they stand."""
        self.lots.append(lots.table)
        self.drawn = YardBook(pd.concat(self.lots), {})
        self.shapes |= dict(
            zip(lots.table["yard_id"], () if lots.shapes is None else lots.shapes, strict=True)
        )

    def find(self, given: str | None, address: str | None) -> tuple[str | None, str]:
        """Return (yard id or None, what to tell)."""
        found, told = self.parcels.find(given, address)
        drawn = self.drawn.find(given, address)[0] if found is None and self.lots else None
        return (found, told) if drawn is None else (drawn, "")


class _PlaceError(Exception):
    """Why nobody knows where a file's drawings stand."""


def _settle(one: More, yards: Draft, known: _Known) -> tuple[str | None, str]:
    """Put drawings in their place; return their parcel, None for a yard of its own, and what to tell."""
    parcel = _named(one, known)
    if parcel is not None:
        return parcel, _laid_on(one, known.shapes[parcel], parcel)
    if "yards" not in one.drafts:
        raise _PlaceError("it draws no lot and names no parcel, so nobody knows whose ground it is")
    if beside := one.told.get("beside"):
        return None, _beside(one, yards, known, beside)
    if not one.placed:
        raise _PlaceError(f"it does not say where it stands, so it takes no part here. {HOW}; {_alone(one)}")
    return _by_place(one, yards)


def _alone(one: More) -> str:
    """Return how to plan a file by itself; double quotes hold in every shell."""
    names = [Path(one.where).stem + end for end in (".csv", "_plan")]
    file, folder = (f'"{n}"' if re.search(r"[^\w.-]", n) else n for n in names)
    place = "" if one.placed else ", give it latitude and longitude of its town"
    return f"or plan it alone: save it elsewhere as {file}{place}, and 'habitat run {file} --out {folder}'"


def _by_place(one: More, yards: Draft) -> tuple[str | None, str]:
    shapes, lot = np.asarray(yards.shapes), one.lots()
    away = float(shapely.distance(shapes, lot).min())
    if away > NEIGHBOUR_M:
        told = f"it lies {away / 1000:,.1f} km from the nearest yard"
        raise _PlaceError(f"{told}: mend its latitude and longitude; {_alone(one)}")
    shared = shapely.area(shapely.intersection(shapes, lot)) / max(lot.area, 1e-9)
    most = int(np.argmax(shared))
    if shared[most] > SAME_SHARE:
        found = str(yards.table["yard_id"].iloc[most])
        return (
            found,
            f"{shared[most]:.0%} of its lot lies in {found}: taken for that yard, whose outline stays",
        )
    return None, "joins the neighbourhood as a yard of its own"


def _named(one: More, known: _Known) -> str | None:
    """Return the yard that a file says it is of, by parcel, by address, or by what its lot is called."""
    given, address = one.told.get("parcel"), one.told.get("address")
    if given is None and address is None:
        shape = known.shapes.get(one.name)
        here = shape is not None and (not one.placed or one.lots().intersects(shape))
        return one.name if here else None
    found, told = known.find(given, address)
    if found is None and given is None and one.placed and "yards" in one.drafts:
        one.drafts["yards"].table["address"] = address  # a place of its own, at an address that no parcel has
        return None
    if found is None:
        raise _PlaceError(told)
    return found


def _laid_on(one: More, shape: BaseGeometry, parcel: str) -> str:
    if one.placed:
        away = shape.distance(one.lots())
        if away > NEAR_M:
            mend = "mend its latitude and longitude"
            raise _PlaceError(f"it is of yard {parcel}, but is drawn {away:,.0f} m beside it: {mend}")
        return f"is laid on yard {parcel}, whose outline stays"
    to, at = shape.centroid, one.lots().centroid
    one.move(to.x - at.x, to.y - at.y)
    return f"is laid on the middle of yard {parcel}, since it gives no place: it may be some metres off"


def _beside(one: More, yards: Draft, known: _Known, beside: str) -> str:
    found, told = known.find(beside, beside)
    if found is None:
        raise _PlaceError(f"it stands beside a parcel that is {told}")
    side = one.told.get("side", "").casefold()
    if side and side not in SIDES:
        raise _PlaceError(f"side is {side!r}: write north, east, south or west, or leave it out")
    lot, parcel = one.lots(), known.shapes[found]
    tree = shapely.STRtree(np.asarray(yards.shapes))
    moves = {name: _next_to(lot, parcel, SIDES[name]) for name in ([side] if side else SIDES)}
    over = {name: _shared_m2(shapely.affinity.translate(lot, *by), tree) for name, by in moves.items()}
    best = min(moves, key=lambda name: (round(over[name], 1), list(SIDES).index(name)))
    one.move(*moves[best])
    return f"joins the neighbourhood beside {found}, to the {best}: it may be some metres off"


def _next_to(lot: BaseGeometry, parcel: BaseGeometry, way: tuple[float, float]) -> tuple[float, float]:
    """Return how far to move a lot [m] so that it touches a parcel on one side."""
    x, y = parcel.centroid.x - lot.centroid.x, parcel.centroid.y - lot.centroid.y
    near, far = 0.0, parcel.length + lot.length
    while far - near > 0.01:
        half = (near + far) / 2
        meets = shapely.affinity.translate(lot, x + half * way[0], y + half * way[1]).intersects(parcel)
        near, far = (half, far) if meets else (near, half)
    return x + far * way[0], y + far * way[1]


def _shared_m2(lot: BaseGeometry, tree: shapely.STRtree) -> float:
    return float(shapely.area(shapely.intersection(tree.geometries[tree.query(lot)], lot)).sum())


def _hand_on_notes(lots: Draft | None, account: Draft, row: int) -> None:
    for note in () if lots is None else lots.notes:
        account.tell(note.what, row, note.harm)


def _take_part(one: More, yards: Draft, account: Draft, row: int) -> None:
    """Give lots that join ids of their own and, unless the sign-up sheet says else, a part."""
    lots, taken = one.drafts["yards"], set(yards.table["yard_id"])
    ids = []
    for name in lots.table["yard_id"]:
        own = name
        while own in taken:
            own = f"{own} ({Path(one.where).stem})" if own == name else f"{own}'"
        if own != name:
            account.tell(f"another yard is called {name!r} already: this one is called {own!r}", row)
        taken.add(own)
        ids.append(own)
    lots.table["yard_id"] = pd.Series(ids, index=lots.table.index, dtype=object)
    lots.table["role"] = MEMBER
    account.table.loc[row, "yard_id"] = "; ".join(ids)
    _hand_on_notes(lots, account, row)
    lots.notes = []


def _append(drafts: dict[str, Draft], extra: Draft) -> None:
    """Add the rows of a drawing to the layer of its name, with names that tell of their file."""
    base = drafts.get(extra.name)
    names = {row: f"{extra.where}, row {row + 1}" for row in range(extra.rows_in)}
    if base is None:
        extra.row_names, extra.details[ONLY_DRAWN] = names, True
        drafts[extra.name] = extra
        return
    assert base.shapes is not None
    assert extra.shapes is not None
    start = 1 + max(base.rows_in, *map(int, base.table.index), *(row for row, *_ in base.aside))
    table = extra.table.set_axis(extra.table.index + start)
    columns = dict.fromkeys([*base.table.columns, *table.columns])
    both = {c: _filled(base.table, table, c) for c in columns}
    base.table = pd.DataFrame(both, index=base.table.index.append(table.index))
    base.shapes = np.concatenate([base.shapes, extra.shapes])
    base.row_names |= {row + start: name for row, name in names.items()}
    base.repaired |= {row + start for row in extra.repaired}
    base.aside += [(row + start, *rest) for row, *rest in extra.aside]
    base.notes += [type(n)(None if n.row is None else n.row + start, n.what, n.harm) for n in extra.notes]
    base.rows_in += extra.rows_in


def _filled(base: pd.DataFrame, extra: pd.DataFrame, column: Any) -> pd.Series[Any]:
    """Return a column of both tables, unknown (no, for what is yes or no) where one of them lacks it."""
    kind = (base if column in base else extra)[column].dtype
    lacking = {"b": False, "O": None}.get(kind.kind, np.nan)
    parts = [
        t[column] if column in t else pd.Series(lacking, t.index, kind if kind.kind in "bO" else float)
        for t in (base, extra)
    ]
    return pd.concat([p.astype(object) for p in parts] if kind.kind == "O" else parts)

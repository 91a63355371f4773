"""Join tables to yards: the sign-up sheet by id or address, soil tests by id or place; never by a guess."""

from __future__ import annotations

import bisect
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from habitat.errors import NotFoundError
from habitat.layers.cells import values
from habitat.layers.cells.garden_wishes import joined
from habitat.layers.formats.raw import Draft, nothing
from habitat.layers.join.addresses import AddressBook, likest
from habitat.terms import ANSWERS, AWAY, ROLES, WISH_FLAGS, household_answer

HINTED = 200
"""So many rows of a table that fit no yard are held against all ids and addresses; the nearest are told."""

FLAGS = ("children", "pets", "sprayed", "deer", "septic", *WISH_FLAGS)
NUMBERS = ("budget", "max_height_m", "hours_a_month", "bed_m2")
TEXTS = ("look", "disliked_colours")


class YardBook:
    """Yard ids, to look up as written, and in the ways spreadsheets and hands change them."""

    def __init__(self, yards: pd.DataFrame, details: Mapping[str, Any]) -> None:
        """Read the yards' table and their draft's details: ids that fit several, ids that were joined."""
        self.ids = dict.fromkeys(yards["yard_id"])
        self.ambiguous: dict[str, list[str]] = details.get("ambiguous_ids", {})
        self.joined: dict[str, str] = details.get("joined_ids", {})
        texts = yards["address"] if "address" in yards else nothing(yards.index)
        self.hinted = 0
        self.texts = {n: t for n, t in zip(yards["yard_id"], texts, strict=True) if isinstance(t, str)}
        self.texts |= details.get("joined_addresses", {})

    @cached_property
    def addresses(self) -> AddressBook:
        """Addresses by any writing."""
        return AddressBook(self.texts)

    @cached_property
    def loose(self) -> dict[str, list[str]]:
        """Ids by what is left of them without case, signs and leading zeros."""
        out: dict[str, list[str]] = defaultdict(list)
        for name in self.ids:
            out[loose_id(name)].append(name)
        return out

    @cached_property
    def sorted_ids(self) -> tuple[list[str], list[str]]:
        """Ids in order, and the same read backwards in order."""
        return sorted(self.ids), sorted(name[::-1] for name in self.ids)

    def near_ids(self, given: str) -> list[tuple[str, float]]:
        """Return the ids most like one, among those that begin or end like it."""
        ahead, behind = self.sorted_ids
        i, j = bisect.bisect(ahead, given), bisect.bisect(behind, given[::-1])
        pool = {*ahead[max(0, i - 40) : i + 40], *(name[::-1] for name in behind[max(0, j - 40) : j + 40])}
        return likest(given, sorted(pool))

    def find(self, given: str | None, address: str | None) -> tuple[str | None, str]:
        """Return (yard id or None, what to tell)."""
        return self.look(given, address)[:2]

    def look(
        self, given: str | None, address: str | None, refused: frozenset[str] = frozenset()
    ) -> tuple[str | None, str, str]:
        """Return yard id or None, what to tell, and how it was found; no hint names yards ``refused``."""
        found, told, how = self._found(given, address)
        if not how and not told:
            told = self._why(given, address, refused)
        return self.joined.get(found or "", found), told, how

    def _found(self, given: str | None, address: str | None) -> tuple[str | None, str, str]:
        if given is not None:
            if given in self.joined:
                return given, f"{given} is joined into {self.joined[given]}", "id"
            if given in self.ambiguous:
                fits = ", ".join(self.ambiguous[given][:5])
                return None, f"not matched: its id fits several yards: {fits}", ""
            if given in self.ids:
                return given, self._other_address(given, address), "id"
            same = self.loose.get(loose_id(given), [])
            if len(same) == 1:
                told = f"id {given!r} is read as {same[0]!r}, which differs only in zeros, case or signs"
                whole = "; ".join(filter(None, (told, self._other_address(same[0], address))))
                return same[0], whole, "id but for zeros, case or signs"
        return (None, "", "") if address is None else self._at_address(address)

    def _at_address(self, address: str) -> tuple[str | None, str, str]:
        """Return what an address leads to: equal ones, its number and street, or the parcel number it is."""
        found = self.addresses.same(address)
        if len(found) == 1:
            return found[0], "", "address"
        if len(found) > 1:
            fits = ", ".join(found[:5])
            return None, f"not matched: its address {address!r} fits several yards: {fits}", ""
        fitting = self.addresses.fitting(address)
        if len(fitting) == 1:
            of = f"{fitting[0]} ({self.texts[fitting[0]]})"
            told = f"address {address!r} is read as that of {of}, the only one of its number and street name"
            return fitting[0], told, "number and street name"
        text = address.strip()
        own = [text] if text in self.ids else self.loose.get(loose_id(text), [])
        if len(own) == 1 and not re.fullmatch(r"\d{1,4}\s?[A-Za-z]?", text):  # which may be a house number
            return own[0], f"address {address!r} is read as the parcel number {own[0]!r}", "parcel number"
        return None, "", ""

    def near(self, given: str | None, address: str | None) -> list[tuple[str, str]]:
        """Return yards that a row may be of though nothing is equal, with how like they are, likest first."""
        if self.hinted > HINTED:
            return []
        found = [] if given is None else self.near_ids(given)
        if address is not None and self.texts:
            found += [(yard, score) for yard, _, score in self.addresses.nearest(address)]
        best: dict[str, float] = {}
        for name, score in found:
            best[name] = max(score, best.get(name, 0.0))
        order = sorted(best, key=lambda name: (-best[name], name))
        return [(name, f"{best[name]:.0%} alike") for name in order[:3]]

    def _other_address(self, yard: str, address: str | None) -> str:
        """Return what to tell if an address beside an id is that of other yards."""
        same = self.addresses.same(address) if address is not None and yard in self.texts else []
        found = [self.joined.get(name, name) for name in same]
        if not found or yard in found:
            return ""
        of = ", ".join(found[:3])
        return f"its id is used, but its address {address!r} is that of {of}: one of the two is a slip"

    def _why(self, given: str | None, address: str | None, refused: frozenset[str]) -> str:
        if given is None and address is None:
            return "not matched: it has no yard id (blank)"
        self.hinted += 1
        if self.hinted > HINTED:
            said = f"id {given!r}" if given is not None else f"address {address!r}"
            return f"not matched: no yard has the {said} (the nearest are told of {HINTED} rows)"
        if given is not None:
            near = [pair for pair in self.near_ids(given) if pair[0] not in refused]
            hints = [f"{name} ({score:.0%} alike)" for name, score in near]
            said = f"no yard has the id {given!r}"
            if parts := values.date_parts(given):
                said += ", which looks like a date that a spreadsheet made of an id"
                made = [f"{a}{sign}{b}" for a in parts for b in parts if a != b for sign in "-/."]
                hints = [f"{name} (was it this?)" for name in made if name in self.ids] + hints
        else:
            hints, said = [], f"no yard has the address {address!r}"
        if address is not None and not self.texts:
            said += "; the yards have no addresses: name their column under layers.yards.columns, as address"
        elif address is not None:
            like = self.addresses.nearest(address)
            hints += [f"{y}: {text} ({score:.0%} alike)" for y, text, score in like if y not in refused]
        return f"not matched: {said}" + (f"; nearest: {'; '.join(hints)}" if hints else "")


def find_yard(yards: gpd.GeoDataFrame, said: str) -> str:
    """Return the id of the yard that somebody names by its id or its address.

    Raises
    ------
    NotFoundError
        If no yard or several are meant; the text names the nearest.
    """
    found, told = YardBook(yards, {}).find(said, said)
    if found is None:
        near = told.partition("; nearest: ")[2]
        raise NotFoundError(
            f"there is no yard {said!r}, by id or by address",
            "",
            f"Nearest: {near}" if near else "'habitat check STUDY --json' lists all yards",
        )
    return found


def loose_id(text: str) -> str:
    """Return an id without case, blanks, signs and leading zeros.

    Examples
    --------
    >>> loose_id("TB-01"), loose_id("00417"), loose_id("417")
    ('tb1', '417', '417')
    """
    return "".join(
        part.lstrip("0") or "0" if part.isdigit() else part
        for part in re.findall(r"\d+|[^\W\d_]+", text.casefold())
    )


def groups_of(people: pd.DataFrame | None, known: Iterable[str] = ()) -> dict[str, str]:
    """Return yard -> group, as the first row of the yard on the sign-up sheet says that names one.

    Groups that differ in case and blanks only are one, written as in ``known``, or as the first row has it.
    """
    if people is None or "group" not in people:
        return {}
    names = {" ".join(name.casefold().split()): name for name in known}
    out: dict[str, str] = {}
    for yard, text in zip(people["yard_id"], people["group"], strict=True):
        key = " ".join(text.casefold().split()) if isinstance(text, str) else ""
        if key and isinstance(yard, str):
            out.setdefault(yard, names.setdefault(key, text.strip()))
    return out


def join_people(yards: gpd.GeoDataFrame, people: Draft | None, *, everyone: bool = False) -> gpd.GeoDataFrame:
    """Return the yards with every column that the sign-up sheet may carry, filled in.

    Without a sheet every yard is a member unless the yards say otherwise themselves; with one, also an empty
    one, yards not in it are "other", or members if ``everyone`` is to be planned. Leave to be shown comes
    from the sheet's own rows alone: a column of the parcels is nobody's word. Several rows of one yard: the
    strongest role, shown only if all agree, any yes counts, the last budget and look given, the lowest height
    limit, hours and ground of beds, all colours disliked.
    """
    out = yards.copy()
    signed = people is not None and len(people.table) > 0
    rows = _one_row_each(people) if people is not None and signed else pd.DataFrame(columns=["yard_id"])
    rows = rows.set_index("yard_id")
    if people is not None and "poisonous" in people.table:
        _tell_odd_answers(people)
    own_role = out["role"] if "role" in out else nothing(out.index)
    absent = "other" if people is not None and not everyone else "member"
    roles = out["yard_id"].map(rows["role"]) if "role" in rows else nothing(out.index)
    out["role"] = [_role(r) or _role(o) or absent for r, o in zip(roles, own_role, strict=True)]
    agreed = out["yard_id"].map(rows["publish"]) if "publish" in rows else pd.Series(False, index=out.index)
    out["publish"] = agreed.fillna(False).astype(bool)
    for name in FLAGS:
        own = out[name] if name in out else pd.Series(False, index=out.index)
        new = out["yard_id"].map(rows[name]) if name in rows else pd.Series(np.nan, index=out.index)
        out[name] = np.where(new.isna(), own, new).astype(bool)
    for name in NUMBERS:
        own = out[name] if name in out else pd.Series(np.nan, index=out.index)
        new = out["yard_id"].map(rows[name]) if name in rows else pd.Series(np.nan, index=out.index)
        out[name] = np.where(new.isna(), own, new).astype(float)
    for name in TEXTS:
        own = out[name] if name in out else nothing(out.index)
        new = out["yard_id"].map(rows[name]) if name in rows else nothing(out.index)
        texts = [n if isinstance(n, str) else _role(o) for n, o in zip(new, own, strict=True)]
        out[name] = pd.Series(texts, index=out.index, dtype=object)
    own = out["poisonous"] if "poisonous" in out else nothing(out.index)
    new = out["yard_id"].map(rows["poisonous"]) if "poisonous" in rows else own
    said = [household_answer(n) or household_answer(o) for n, o in zip(new, own, strict=True)]
    out["poisonous"] = pd.Series(said, index=out.index, dtype=object)
    own = out["address"] if "address" in out else nothing(out.index)
    new = out["yard_id"].map(rows["address"]) if "address" in rows else own
    address = [
        o if isinstance(o, str) else (n if isinstance(n, str) else None)
        for o, n in zip(own, new, strict=True)
    ]
    out["address"] = pd.Series(address, index=out.index, dtype=object)
    return out


def _tell_odd_answers(people: Draft) -> None:
    for row, said in people.table["poisonous"].items():
        if isinstance(said, str) and said.strip() and not household_answer(said):
            listed = ", ".join(ANSWERS)
            people.tell(f"poisonous is {said!r}, which is none of {listed}: read as {AWAY!r}", int(str(row)))


def _role(value: Any) -> str | None:
    return value if isinstance(value, str) else None


def _one_row_each(people: Draft) -> pd.DataFrame:
    table = people.table
    twice = table["yard_id"].duplicated(keep=False)
    for yard in table.loc[twice, "yard_id"].unique():
        rows = table.index[table["yard_id"] == yard]
        listed = ", ".join(str(int(r) + 1) for r in rows[:8])
        same = len(table.loc[rows].drop(columns="geometry", errors="ignore").astype(str).drop_duplicates())
        people.tell(
            f"{len(rows)} rows are of this yard (rows {listed})"
            + (
                ", all the same: they count once"
                if same == 1
                else ": the strongest role, shown only if all agree, any yes, the budget of the last row "
                "that gives one, the lowest height limit"
            ),
            int(rows[0]),
        )
    how: dict[str, Any] = {
        "role": lambda s: min(s.dropna(), key=ROLES.index, default=None),
        "publish": "all",
        "budget": "last",
        "max_height_m": "min",
        "address": "first",
        "look": "last",
        "disliked_colours": lambda s: joined(tuple(s)),
        "hours_a_month": "min",
        "bed_m2": "min",
        "poisonous": lambda s: min(filter(None, map(household_answer, s)), key=ANSWERS.index, default=""),
    }
    how |= dict.fromkeys(FLAGS, "any")
    if not twice.any():
        return table[[c for c in ("yard_id", *how) if c in table]]
    return (
        table.groupby("yard_id", sort=False).agg({c: f for c, f in how.items() if c in table}).reset_index()
    )

"""Which row of the sign-up sheet joined which yard and how; what a person said of it is never asked twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import pandas as pd

from habitat.layers.formats.raw import Draft, nothing
from habitat.layers.join.addresses import address_key, unit_key
from habitat.layers.join.people import YardBook, loose_id
from habitat.layers.join.points import yards_at

COLUMNS = ("yard_id_given", "address", "yard_id", "yard_address", "how", "answer", "note")
CONFIRMED, REFUSED = "confirmed", "refused"
ANSWERS = {
    CONFIRMED: ("confirmed", "confirm", "yes", "y", "x", "true", "ok", "right", "1", "✓", "✔"),
    REFUSED: ("refused", "refuse", "no", "n", "false", "wrong", "0", "-", "–"),
}
"""What a person may write beside a match, as people write it."""

Key = tuple[str, str, str]


@dataclass(slots=True)
class Kept:
    """What people said of matches.

    confirmed, refused : by row of a sheet, the yard that it is of, the yards that it is not of. rows : each
    row that bears an answer, as it is written again.
    """

    confirmed: dict[Key, str] = field(default_factory=dict)
    refused: dict[Key, set[str]] = field(default_factory=dict)
    rows: dict[tuple[Key, str], dict[str, str]] = field(default_factory=dict)


def key_of(given: Any, address: Any) -> Key:
    """Return what a row of a sheet is known by, however its id and address are written."""
    id_text, text = (v if isinstance(v, str) else "" for v in (given, address))
    return loose_id(id_text), address_key(text), unit_key(text)


def read_matches(draft: Draft | None, yards: gpd.GeoDataFrame, details: Mapping[str, Any]) -> Kept:
    """Read what people said of matches; what cannot be used is told with its row."""
    kept = Kept()
    if draft is None:
        return kept
    book, twice = YardBook(yards, details), set[Key]()
    for number, row in zip(map(int, draft.table.index), draft.table.to_dict("records"), strict=True):
        cells = {c: v.strip() if isinstance(v := row.get(c), str) else "" for c in COLUMNS}
        said = cells["answer"].casefold().strip(" .!")
        answer = next((a for a, words in ANSWERS.items() if said in words), None)
        if not said:
            continue
        key = key_of(cells["yard_id_given"], cells["address"])
        yard, told = book.find(cells["yard_id"] or None, None)
        if answer is None or yard is None or not any(key):
            draft.tell(_useless(cells, answer, told, any(key)), number, 2)
            kept.rows[key, cells["yard_id"]] = cells
            continue
        kept.rows[key, yard] = cells | {"yard_id": yard, "answer": answer}
        if answer == REFUSED:
            kept.refused.setdefault(key, set()).add(yard)
        elif kept.confirmed.setdefault(key, yard) != yard:
            draft.tell("it is confirmed for another yard too: neither counts until one is refused", number, 2)
            twice.add(key)
    for key in twice:
        del kept.confirmed[key]
    return kept


def _useless(cells: Mapping[str, str], answer: str | None, told: str, known: bool) -> str:
    if answer is None:
        return f"the answer {cells['answer']!r} is neither {CONFIRMED} nor {REFUSED}: it counts for nothing"
    if not known:
        return "it says of no yard_id_given and no address: it counts for nothing"
    return f"its answer counts for nothing: {told}"


def match_rows(draft: Draft, yards: gpd.GeoDataFrame, details: Mapping[str, Any], kept: Kept) -> None:
    """Find the yard of every row by id, address or place; set aside rows of none, with the nearest named.

    What a person confirmed or refused goes before all else. ``draft.details`` gets how many rows are matched,
    and of a sign-up sheet ``matches``: a row of COLUMNS for each row of the sheet, or for each yard that it
    might be of, and those that people answered.
    """
    book, table = YardBook(yards, details), draft.table
    ids = table["yard_id"] if "yard_id" in table else nothing(table.index)
    texts = table["address"] if "address" in table else nothing(table.index)
    here = yards_at(draft.shapes, yards) if draft.shapes is not None else [None] * len(table)
    found: list[str | None] = []
    unmatched: dict[int, str] = {}
    rows = dict(kept.rows)
    for row, given, text, place in zip(table.index, ids, texts, here, strict=True):
        yard, told, how = _matched(book, kept, given, text, place)
        if yard is None:
            unmatched[int(row)] = told
        elif told:
            draft.tell(told, int(row), 1)
        found.append(yard)
        for one in _told(book, kept, given, text, yard, how):
            rows.setdefault((key_of(given, text), one["yard_id"]), one)
    draft.table["yard_id"] = pd.Series(found, index=table.index, dtype=object)
    draft.details = {
        "matched": len(table) - len(unmatched),
        "unmatched": len(unmatched),
        "unmatched_rows": unmatched,
    }
    if draft.name == "participants":
        draft.details["matches"] = list(rows.values())
    draft.set_aside(unmatched)


def _matched(
    book: YardBook, kept: Kept, given: Any, text: Any, place: str | None
) -> tuple[str | None, str, str]:
    """Return the yard of a row or None, what to tell, and how it was found."""
    key = key_of(given, text)
    if key in kept.confirmed:
        return kept.confirmed[key], "", CONFIRMED
    refused = kept.refused.get(key, set())
    yard, told, how = book.look(given, text, frozenset(refused))
    if yard is not None and yard in refused:
        yard, told = None, f"not matched: somebody refused yard {yard} for it in the table of matches"
    if yard is None and place is not None and place not in refused:
        also = "" if given is None and text is None else f"{told}; its place lies in {place}, which is used"
        return place, also, "place"
    return yard, told, how


def _told(
    book: YardBook, kept: Kept, given: Any, text: Any, yard: str | None, how: str
) -> Iterator[dict[str, str]]:
    """Yield the rows to write for a row of a sheet: its yard, or those that it might be of."""
    refused = kept.refused.get(key_of(given, text), set())
    near = [(yard, how)] if yard is not None else [n for n in book.near(given, text) if n[0] not in refused]
    for name, why in near or ([] if refused else [("", "no yard is like it")]):
        yield {
            "yard_id_given": given if isinstance(given, str) else "",
            "address": text if isinstance(text, str) else "",
            "yard_id": name,
            "yard_address": book.texts.get(name, ""),
            "how": why,
            "answer": "",
            "note": "",
        }

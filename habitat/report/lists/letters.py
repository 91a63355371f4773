"""Letters to households, in the group's own words: to ask, to hand over a sheet, to remind in spring."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

import pandas as pd

from habitat.errors import HabitatError, LayerError, MissingFileError, together
from habitat.report.lists.contacts import contacts_table, groups_in
from habitat.report.lists.walk import walk_table
from habitat.report.plan import Plan
from habitat.report.sheets.facts import addresses
from habitat.report.typeset import Typesetter, head
from habitat.report.words.months import date_words
from habitat.report.words.numbers import money
from habitat.report.words.text import counted, plain
from habitat.study.model import Study
from habitat.terms import DRAFT

FIELDS = {
    "name": "who lives there, as on the sign-up sheet; neighbour, where nobody said",
    "address": "its address; the number of the yard, where there is none",
    "yard": "number of the yard",
    "study": "study.name",
    "contact": "study.contact, or that of its group",
    "date": "study.date",
    "special": "what is special about the yard (asking)",
    "adds": "what its plan would add (asking)",
    "cost": "what its plants cost",
    "plants": "how many plants",
    "beds": "how many beds",
    "sheet": "file of its sheet",
    "status": "what became of its plan",
    "pick_up": "when to pick up plants",
    "group": "its group, where there are several",
}
"""What may stand in braces in a template; a line with a field of which nothing is known is left out."""

FIELD = re.compile(r"\{\{|\}\}|\{([^{}]*)\}")
LONGEST = 20_000
"""Letters in a template at most."""

KINDS = ("letter_ask", "letter_hand_over", "letter_spring")
"""Keys under [report] that may name a template; without one the words in ``report/assets`` hold."""


def template(study: Study, key: str) -> str:
    """Return the template of a letter: the group's own, or ours.

    Raises
    ------
    MissingFileError
        If the file is not there.
    LayerError
        If it is no text, or a field in it is none of FIELDS; the text names file and line.
    """
    named = getattr(study.report, key)
    if named is None:
        return (files("habitat.report") / "assets" / f"{key}.txt").read_text(encoding="utf-8")
    path = study.resolve(named)
    if not path.is_file():
        raise MissingFileError(
            f"report.{key} names {named!r}, which is not there", str(study.path), "Check the path"
        )
    try:
        with path.open(encoding="utf-8-sig") as file:
            text = file.read(LONGEST + 1)
    except (OSError, UnicodeDecodeError) as error:
        raise LayerError(
            f"the letter cannot be read ({error})", str(path), "Save it as plain text, UTF-8"
        ) from error
    if len(text) > LONGEST:
        raise LayerError("the letter is too long", str(path), f"Keep it under {LONGEST:,} letters")
    for number, line in enumerate(text.splitlines(), start=1):
        _check_line(line, f"{path}, line {number}")
    return text


def _check_line(line: str, where: str) -> None:
    listed = ", ".join(FIELDS)
    for field in FIELD.finditer(line):
        if field[1] is not None and field[1] not in FIELDS:
            raise LayerError(
                f"there is no field {field[0]}", where, f"Fields are: {listed}; a brace itself is {{{{"
            )
    if {"{", "}"} & set(FIELD.sub("", line)):
        raise LayerError("a brace stands alone", where, f"Close it, or double it; fields are: {listed}")


def check_templates(study: Study) -> None:
    """Refuse templates that cannot be used, all of them at once.

    Raises
    ------
    HabitatError
        As ``template``.
    """
    faults = []
    for key in KINDS:
        try:
            template(study, key)
        except HabitatError as error:
            faults.append(error)
    if faults:
        raise together(faults)


def filled(text: str, known: Mapping[str, str]) -> str:
    """Return a template with its fields filled in, without lines that have a field of which nothing is known.

    Examples
    --------
    >>> filled("To {name} {{x}}", {"name": "Ada {y}"}).rstrip()
    'To Ada {y} {x}'
    """
    lines = []
    for line in text.splitlines():
        fields = [f[1] for f in FIELD.finditer(line) if f[1] is not None]
        if all(known.get(f) for f in fields):
            lines.append(FIELD.sub(lambda f: f[0][0] if f[1] is None else known[f[1]], line).rstrip())
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip("\n") + "\n"


def letters_to_ask(plan: Plan) -> list[str]:
    """Return a letter for each door to ask, in the order of the walk."""
    rows = [row for row in walk_table(plan).to_dict("records") if pd.notna(row["stop"])]
    own = {str(row["yard_id"]): {"special": str(row["special"]), "adds": str(row["adds"])} for row in rows}
    return _letters(plan, "letter_ask", list(own), own)


def letters_to_hand_over(plan: Plan) -> list[str]:
    """Return a letter for each household that takes part and whose plan is a draft, in street order."""
    table = contacts_table(plan)
    mine = table["takes_part"] & table["status"].isin(("", DRAFT)) & (table["plants"] > 0)
    return _letters(plan, "letter_hand_over", table.loc[mine, "yard_id"].tolist(), {})


def letters_for_spring(plan: Plan) -> list[str]:
    """Return a letter for each household that takes part, in street order."""
    table = contacts_table(plan)
    return _letters(plan, "letter_spring", table.loc[table["takes_part"], "yard_id"].tolist(), {})


def _letters(plan: Plan, key: str, yards: list[str], more: Mapping[str, dict[str, str]]) -> list[str]:
    if not yards:
        return []
    study, text = plan.study, template(plan.study, key)
    rows = contacts_table(plan).set_index("yard_id", drop=False)
    common = {
        "study": plain(study.study.name, 120),
        "date": "" if study.study.date is None else date_words(study.study.date),
    }
    told = {yard: _known(plan, rows.loc[yard]) if yard in rows.index else _bare(plan, yard) for yard in yards}
    return [filled(text, common | told[yard] | more.get(yard, {})) for yard in yards]


def _bare(plan: Plan, yard: str) -> dict[str, str]:
    """Return what is known of a door without a plan, as where only some yards were planned: no figure."""
    lived = plain(addresses(plan).get(yard, ""), 120)
    contact = plain(plan.study.study.contact, 200)
    return {
        "name": "neighbour",
        "address": lived or f"yard {yard}",
        "yard": plain(yard, 40),
        "contact": contact,
    }


def _known(plan: Plan, row: Any) -> dict[str, str]:
    """Return what a household's own fields hold."""
    said = plan.study.groups.get(groups_in(plan).get(str(row["yard_id"]), ""))
    address, yard = plain(row["address"], 120), plain(row["yard_id"], 40)
    return {
        "name": plain(row["name"], 120) or "neighbour",
        "address": address or f"yard {yard}",
        "yard": yard,
        "cost": money(float(row["cost"]), plan.study.planting.currency),
        "plants": counted(int(row["plants"]), "plant"),
        "beds": counted(int(row["beds"]), "bed"),
        "sheet": plain(row["sheet"], 200),
        "status": plain(row["status"], 40),
        "group": plain(row["group"], 120),
        "contact": plain((said.contact if said else "") or plan.study.study.contact, 200),
        "pick_up": plain(row["pick_up"], 80),
    }


def letter_writer(letters: Callable[[Plan], list[str]], title: str) -> Callable[[Plan, Path], list[Path]]:
    """Return what writes letters as text, a page break between, and as PDF beside it, a letter a page."""

    def write(plan: Plan, path: Path) -> list[Path]:
        made = letters(plan)
        path.write_text("\f".join(made), encoding="utf-8", newline="\n")
        setter, paper = Typesetter("lists.typ", plan.study.study.date), path.with_suffix(".pdf")
        pages = [[part.split("\n") for part in letter.strip("\n").split("\n\n")] for letter in made]
        paper.write_bytes(
            setter.pdf({**head(plan, title), "kind": "letters", "subtitle": "", "letters": pages})
        )
        setter.forget()
        return [path, paper]

    return write

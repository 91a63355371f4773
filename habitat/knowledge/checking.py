"""Checks of the tables: each cell, each row, and the tables against each other; and text made into types."""

from __future__ import annotations

import re
from typing import Any

import pandas as pd

from habitat.factors import FACTORS
from habitat.knowledge.columns import Column, nearest, split_list, to_number
from habitat.knowledge.reading import Cells, TextTable
from habitat.knowledge.schema import CAUTION_RULES, PLANTS

LISTS = ("list", "names", "windows", "spans")


def check_rows(table: TextTable, faults: list[str]) -> None:
    """Add every fault of every row, each as "file, row (name), column: rule"."""
    for key, cells in table.rows.items():
        place = f"{table.places[key]} ({' / '.join(key)})"
        before = len(faults)
        columns = table.schema.columns
        blank = [name for name, column in columns.items() if not column.blank and not cells.get(name)]
        if blank:
            others = [" / ".join(other) for other in table.rows if other != key]
            hint = nearest(" / ".join(key), others) if key in table.own_keys else ""
            faults.append(f"{place}, {', '.join(blank)}: must not be blank{hint}")
        rules = [(name, columns[name].fault(text)) for name, text in cells.items() if text]
        faults.extend(f"{place}, {name}: {rule}" for name, rule in rules if rule)
        if len(faults) == before:
            _check_row(table, cells, place, faults)


def _check_row(table: TextTable, cells: Cells, place: str, faults: list[str]) -> None:
    for group in table.schema.together:
        given = [c for c in group if cells.get(c)]
        if given and len(given) < len(group):
            faults.append(f"{place}, {', '.join(group)}: give all of them or none")
    for group in table.schema.rising:
        values = [to_number(cells[c]) or 0.0 for c in group if cells.get(c)]
        if sorted(values) != values:
            shown = ", ".join(f"{v:g}" for v in values)
            faults.append(f"{place}, {', '.join(group)}: must not fall from left to right, but are {shown}")
    if table.name == "plants":
        _check_plant(cells, place, faults)
    elif table.name == "butterflies":
        _check_butterfly(cells, place, faults)
    elif table.name == "cautions" and cells["effect"] == "no_hosts" and cells["when"] != "sprayed":
        faults.append(f"{place}, effect: only sprayed yards are kept free of hosts; write 'tell'")


def _check_plant(cells: Cells, place: str, faults: list[str]) -> None:
    spacing, spread = to_number(cells["spacing_m"]) or 0.0, to_number(cells["spread_m"]) or 0.0
    if spacing > spread * 1.05:
        faults.append(f"{place}, spacing_m: {spacing:g} m is wider than the mature spread, {spread:g} m")
    for wants in (f.wants for f in FACTORS.values() if f.wants.groups):
        names = list(wants.groups or ())
        said = sorted(names.index(g) for g in set(split_list(cells.get(wants.columns[0], ""))))
        if said and said[-1] - said[0] >= len(said):
            faults.append(f"{place}, {wants.columns[0]}: groups must be neighbours ({', '.join(names)})")
    hazards = split_list(cells["hazards"])
    if "none" in hazards and len(hazards) > 1:
        faults.append(f"{place}, hazards: 'none' cannot stand beside a hazard")
    if len(cells["scientific_name"].split()) < 2:
        faults.append(f"{place}, scientific_name: must be genus and species")


def _check_butterfly(cells: Cells, place: str, faults: list[str]) -> None:
    away, stage = cells["where_overwinters"] == "away_from_host", cells["overwinter_stage"]
    if (stage == "migrates" and not away) or (away and stage not in ("migrates", "adult")):
        faults.append(
            f"{place}, overwinter_stage, where_overwinters: 'migrates' and 'away_from_host' belong together; "
            "else only adults winter away from hosts"
        )


def check_between(tables: dict[str, TextTable], region: str, known: list[str], faults: list[str]) -> None:
    """Add every fault of the tables against each other.

    Parameters
    ----------
    tables
        Every table, of one region.
    region
        Its id.
    known
        Ids of the shipped regions, for the hint where there is no row.
    faults
        Where faults go.
    """
    plants = {k[0]: c for k, c in tables["plants"].rows.items()}
    flies = {k[0] for k in tables["butterflies"].rows}
    old = {k[0]: c["accepted_name"] for k, c in tables["synonyms"].rows.items() if _leads(c, plants, flies)}
    for name, what in (("plants", plants), ("butterflies", flies)):
        if not what:
            faults.append(
                f"{name}, region: no row is for region {region!r}; the tables know {', '.join(known)}; "
                "own tables add another"
            )
    table = tables["lookalikes"]
    for key in table.rows:
        if key[1] in plants:
            faults.append(
                f"{table.places[key]} ({' / '.join(key)}), lookalike_scientific_name: is in the plant table, "
                "so it would be planted all the same; keep it out with planting.exclude in the study file"
            )
    fed = _check_hosts(tables["hosts"], plants, flies, old, faults)
    for fly in sorted(flies - fed) if plants else ():
        place = tables["butterflies"].places[(fly,)]
        faults.append(f"{place} ({fly}): no host plant of it is in the tables; add rows to hosts and plants")
    _check_synonyms(tables, faults)
    _check_references(tables, faults)


def _leads(synonym: Cells, plants: dict[str, Cells], flies: set[str]) -> bool:
    """Return whether a synonym stands for a plant or butterfly of the tables."""
    return synonym.get("accepted_name", "") in {"plant": plants, "butterfly": flies}.get(
        synonym.get("kind", ""), ()
    )


def _check_hosts(
    table: TextTable,
    plants: dict[str, Cells],
    flies: set[str],
    old: dict[str, str],
    faults: list[str],
) -> set[str]:
    """Check who eats what, and return the butterflies that have a host."""
    groups = {
        "species": set(plants),
        "genus": {p.split()[0] for p in plants},
        "family": {c.get("family", "") for c in plants.values()},
    }
    fed = set()
    for key, cells in table.rows.items():
        place = f"{table.places[key]} ({' / '.join(key)})"
        fly, taxon = (old.get(name, name) for name in key)
        if fly not in flies:
            faults.append(f"{place}, scientific_name: no such butterfly{nearest(fly, sorted(flies))}")
            continue
        known = groups.get(cells.get("rank", ""), set())
        if taxon in known:
            fed |= {fly} if cells.get("use") != "none" else set()
        elif key in table.own_keys:
            faults.append(
                f"{place}, host_taxon: no plant of the tables belongs to it{nearest(taxon, sorted(known))}"
            )
    return fed


def _check_synonyms(tables: dict[str, TextTable], faults: list[str]) -> None:
    names = {
        "plant": {k[0] for k in tables["plants"].rows},
        "butterfly": {k[0] for k in tables["butterflies"].rows},
        "lookalike": {k[1] for k in tables["lookalikes"].rows},
    }
    table = tables["synonyms"]
    own = table.own_keys
    for key, cells in table.rows.items():
        place = f"{table.places[key]} ({key[0]})"
        known = names.get(cells.get("kind", ""), set())
        leads = cells.get("accepted_name") in known
        if known and not leads and key in own:
            hint = nearest(cells.get("accepted_name", ""), sorted(known))
            faults.append(
                f"{place}, accepted_name: {cells.get('accepted_name')!r} is not in the tables{hint}"
            )
        if (leads or key in own) and key[0] in names["plant"] | names["butterfly"]:
            faults.append(f"{place}, old_name: is an accepted name too")
    for name in ("plants", "butterflies"):
        for key in tables[name].own_keys & set(table.rows):
            accepted = table.rows[key].get("accepted_name")
            faults.append(f"{tables[name].places[key]} ({key[0]}): is an older name; write {accepted!r}")


def _check_references(tables: dict[str, TextTable], faults: list[str]) -> None:
    """Every upper-case source key must stand in the sources; what to plant instead must be a plant."""
    keys = {k[0] for k in tables["sources"].rows}
    for table in tables.values():
        for key in table.rows.keys() - table.own_keys:
            used = re.findall(r"\b[A-Z]{2,}[A-Z0-9]*(?:-[A-Z0-9]+)+\b", table.rows[key].get("source", ""))
            faults.extend(
                f"{table.places[key]} ({' / '.join(key)}), source: key {k!r} is not in the sources"
                for k in used
                if k not in keys
            )
    needs, rules = tables["brood_needs"], sorted(k[0] for k in tables["practice"].rows)
    for key, cells in needs.rows.items():
        rule = cells.get("practice_rule", "")
        if not cells.get("plants_per_brood") and rule not in rules:
            faults.append(
                f"{needs.places[key]} ({' / '.join(key)}), plants_per_brood, practice_rule: give a number of "
                f"plants, or a rule of practice that has it, not {rule!r}{nearest(rule, rules)}"
            )
    for key, cells in tables["lookalikes"].rows.items():
        instead = cells.get("plant_instead", "")
        if instead and (instead,) not in tables["plants"].rows:
            place = f"{tables['lookalikes'].places[key]} ({' / '.join(key)})"
            faults.append(f"{place}, plant_instead: {instead!r} is not in the plant table")
    _check_cautions(tables, faults)


def _check_cautions(tables: dict[str, TextTable], faults: list[str]) -> None:
    """Add a fault for each caution about nothing that a plant can be, since it would never be told."""
    plants = tables["plants"].rows.values()
    tags = {*CAUTION_RULES, *PLANTS.columns["form"].choices, *PLANTS.columns["hazards"].choices} - {"none"}
    tags |= {cells.get("family", "") for cells in plants}
    tags |= {name for (plant,) in tables["plants"].rows for name in (plant, plant.split()[0])}
    table, rules = tables["cautions"], ", ".join(CAUTION_RULES)
    for key, cells in table.rows.items():
        about = cells.get("applies_to", "")
        if about and about not in tags and key not in table.shared:
            rule = f"is no form, hazard, family, genus or species of the plant table, nor one of {rules}"
            place = f"{table.places[key]} ({key[0]})"
            faults.append(f"{place}, applies_to: {about!r} {rule}{nearest(about, sorted(tags))}")


def typed(table: TextTable) -> pd.DataFrame:
    """Return checked rows as a frame with the kinds of the schema; blank text "", blank numbers NaN.

    A blank cell of a column with a default holds it.
    """
    columns = {}
    for name, column in table.schema.columns.items():
        texts = [cells.get(name) or column.default for cells in table.rows.values()]
        columns[name] = pd.Series([_value(column, t) for t in texts], dtype=_dtype(column))
    return pd.DataFrame(columns)


def _dtype(column: Column) -> Any:
    if column.kind == "flag":
        return bool
    if column.kind == "integer" and not column.blank:
        return "int64"
    return "float64" if column.kind in ("number", "integer") else object


def _value(column: Column, text: str) -> Any:
    if column.kind == "flag":
        return text.lower() in ("true", "yes")
    if column.kind in ("number", "integer"):
        value = to_number(text) if text else None
        return float("nan") if value is None else value
    return ";".join(split_list(text)) if column.kind in LISTS else text

"""Looking things up in the tables, as the commands ``habitat plants`` and ``habitat butterflies`` do."""

from __future__ import annotations

from typing import Any

import pandas as pd

from habitat.errors import NotFoundError
from habitat.knowledge.broods import brood_need
from habitat.knowledge.care import lookalikes_of
from habitat.knowledge.columns import split_list
from habitat.knowledge.hazards import containing_words, hazard_action, needs_containing
from habitat.knowledge.looks import stage_looks, winter_words
from habitat.knowledge.months import months_text
from habitat.knowledge.names import NameMatch, resolve_butterflies, resolve_plants
from habitat.knowledge.sources import citations, row_source, unit_of, value_source
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import STAGES, bloom_months, flight_months, stages

Row = tuple[str, Any, str, str]
NOT_VALUES = ("source", "source_kind", "movement_source_kind", "checked_fields", "region")
NAMES = ("scientific_name", "notes")
"""Fields that are no claim of their own, so that no source stands beside them."""

HAZARD_CLASSES = {
    "1": "class 1, major toxicity",
    "2": "class 2, minor toxicity",
    "3": "class 3, oxalates",
    "4": "class 4, hurts skin",
}
"""Classes of poisonous plants as poison lists for gardens number them."""

ACTION_WORDS = {
    "none": "nothing needed",
    "tell": "told on the sheet",
    "gloves": "handled in gloves",
    "keep_away": "away from play ground, doors and paths",
    "ask": "a question to the household; away from play ground, doors and paths",
    "bar": "left out, unless the household says otherwise",
}
"""What a hazard asks for where children or pets live."""

SHADE_BELOW_H = 4.0
"""A plant is content in shade if its full range of sun starts below this: common practice."""


def accepted_plant(knowledge: Knowledge, name: str) -> str:
    """Return the accepted name of a plant.

    Raises
    ------
    NotFoundError
        If it is not in the tables; the text names what comes close, and says if it is a butterfly.
    """
    match, other = resolve_plants([name], knowledge)[0], resolve_butterflies([name], knowledge)[0]
    return _accepted(match, "plant", other, f"'habitat plants --eaten-by \"{name}\"' lists what it eats")


def accepted_butterfly(knowledge: Knowledge, name: str) -> str:
    """Return the accepted name of a butterfly; raises as ``accepted_plant``."""
    match, other = resolve_butterflies([name], knowledge)[0], resolve_plants([name], knowledge)[0]
    return _accepted(match, "butterfly", other, f"'habitat butterflies --for \"{name}\"' lists who eats it")


def _accepted(match: NameMatch, kind: str, other: NameMatch, hint_other: str) -> str:
    if match.accepted is None and other.accepted is not None:
        what = {"plant": "butterfly", "butterfly": "plant"}[kind]
        raise NotFoundError(f"{match.given!r} is a {what}, no {kind}", "", hint_other)
    if match.accepted is None:
        told = any(name in match.note for name in match.suggestions)
        lists = {"plant": "plants", "butterfly": "butterflies"}[kind]
        hint = f"Did you mean {' or '.join(match.suggestions)}?" if match.suggestions and not told else ""
        hint = hint or f"'habitat {lists}' lists all"
        raise NotFoundError(match.note or f"{match.given!r} is no {kind} of the tables", "", hint)
    return match.accepted


def find_plants(
    knowledge: Knowledge,
    *,
    eaten_by: str | None = None,
    shade: bool = False,
    bloom: int | None = None,
) -> pd.DataFrame:
    """Return plants that meet every condition: a row each, name, form, size, sun, bloom, nectar, for whom.

    Parameters
    ----------
    eaten_by
        A butterfly that breeds on it, by any of its names.
    shade
        Content with less than 4 h of direct sun.
    bloom
        In bloom in this month.
    """
    plants = knowledge.plants
    if eaten_by is not None:
        hosts = knowledge.hosts_of(accepted_butterfly(knowledge, eaten_by))
        plants = plants[plants.index.isin(hosts["plant"])]
    if shade:
        plants = plants[plants["sun_opt_low_h"] < SHADE_BELOW_H]
    if bloom is not None:
        plants = plants[[bloom in bloom_months(row) for _, row in plants.iterrows()]]
    rows = [
        {
            "plant": name,
            "common_name": row["common_name"],
            "form": row["form"],
            "height_m": float(row["height_m"]),
            "sun_h": f"{row['sun_min_h']:g}-{row['sun_max_h']:g}",
            "bloom": months_text(bloom_months(row)),
            "nectar": int(row["nectar_value"]),
            "feeds": "; ".join(_common(knowledge, b) for b in knowledge.eaters_of(str(name))["butterfly"]),
        }
        for name, row in plants.sort_index().iterrows()
    ]
    return pd.DataFrame(
        rows, columns=["plant", "common_name", "form", "height_m", "sun_h", "bloom", "nectar", "feeds"]
    )


def find_butterflies(
    knowledge: Knowledge, *, eats: str | None = None, month: int | None = None
) -> pd.DataFrame:
    """Return butterflies that meet every condition: a row each.

    Parameters
    ----------
    eats
        A plant that its caterpillars eat, by any of its names.
    month
        Adults fly in this month.
    """
    flies = knowledge.butterflies
    if eats is not None:
        flies = flies[flies.index.isin(knowledge.eaters_of(accepted_plant(knowledge, eats))["butterfly"])]
    if month is not None:
        flies = flies[[month in flight_months(row) for _, row in flies.iterrows()]]
    rows = [
        {
            "butterfly": name,
            "common_name": row["common_name"],
            "flight": months_text(flight_months(row)),
            "broods": int(row["broods_per_year"]),
            "winters_as": row["overwinter_stage"],
            "habitat": row["habitat"],
            "host_plants": len(knowledge.hosts_of(str(name))),
        }
        for name, row in flies.sort_index().iterrows()
    ]
    return pd.DataFrame(
        rows, columns=["butterfly", "common_name", "flight", "broods", "winters_as", "habitat", "host_plants"]
    )


def _common(knowledge: Knowledge, butterfly: str) -> str:
    return str(knowledge.butterflies.loc[butterfly, "common_name"])


def describe_plant(knowledge: Knowledge, name: str) -> pd.DataFrame:
    """Return every value of a plant and where it comes from: field, value, unit, source.

    ``source`` says "published: ...", "memory" or "own table ...", value by value. Then follow the butterflies
    that breed on it, what a brood needs, how poisonous it is and how it spreads, its look-alikes, and the
    sources in full.
    """
    plant = accepted_plant(knowledge, name)
    rows = _values(knowledge, "plants", plant)
    for eater in knowledge.eaters_of(plant).itertuples():
        words = f"{_common(knowledge, str(eater.butterfly))} ({eater.butterfly}), {eater.use}"
        rows.append(("feeds", words, "", row_source(str(eater.source_kind), str(eater.source))))
    if bool(knowledge.plants.loc[[plant]].iloc[0]["is_host"]):
        need = brood_need(knowledge, plant)
        rows.append(("plants_per_brood", need.plants, "plants", need.count_source))
        rows.append(("plants_with_spares", need.with_spares, "plants", need.source))
        rows.append(("regrowths", need.regrowths, "times a season", need.source))
    rows += _grades(knowledge, plant)
    for near in lookalikes_of(knowledge, [plant]).itertuples():
        words = f"{near.common_name} ({near.lookalike}): {near.reason}. {near.action}"
        told = row_source(str(near.source_kind), str(near.source))
        rows.append(("do_not_confuse_with", words, "", told))
    return _with_citations(knowledge, rows)


def _grades(knowledge: Knowledge, plant: str) -> list[Row]:
    """Return what is said of a plant's poison, spread and native states, each with its source."""
    rows: list[Row] = []
    if plant in knowledge.hazard_classes.index:
        row: Any = knowledge.hazard_classes.loc[plant]
        classes = [HAZARD_CLASSES[c] for c in split_list(str(row["class_four"]))]
        told = "; ".join([*classes, *([str(row["part"])] if row["part"] else [])]) or "harms animals"
        basis = str(row["class_basis"])
        rows.append(("poison_class", told, "", basis + (": " + str(row["source"]) if row["source"] else "")))
        stricter = " (one step stricter, since the class is from memory)" if basis == "memory" else ""
        for who in ("children", "pets"):
            action = hazard_action(knowledge, plant, children=who == "children", pets=who == "pets")
            rows.append((f"with_{who}", ACTION_WORDS[action], "", f"judgement{stricter}"))
    if plant in knowledge.spread_classes.index:
        row = knowledge.spread_classes.loc[plant]
        source = row_source(str(row["source_kind"]), str(row["source"]))
        rows.append(("spreads", str(row["grade"]).replace("_", " "), "", source))
        if things := needs_containing(knowledge, plant):
            rows.append(("contained_by", containing_words(things), "", source))
    if plant in knowledge.native_states.index:
        row = knowledge.native_states.loc[plant]
        source = row_source(str(row["source_kind"]), str(row["source"]))
        rows.append(("native_states", str(row["native_states"]), "", source))
        if row["state_level_doubt"]:
            rows.append(("native_doubt", str(row["state_level_doubt"]), "", source))
    return rows


def describe_butterfly(knowledge: Knowledge, name: str) -> pd.DataFrame:
    """Return every value of a butterfly and where it comes from: field, value, unit, source.

    Then follow its year, what its young stages look like, its winter, what it eats, and the sources in full.
    """
    butterfly = accepted_butterfly(knowledge, name)
    rows = _values(knowledge, "butterflies", butterfly)
    year = stages(knowledge.butterflies.loc[[butterfly]].iloc[0])
    worked = "worked out from flight, broods and winter stage"
    rows += [(f"{s}_months", months_text(year.index[year[s]]), "month", worked) for s in STAGES]
    for look in stage_looks(knowledge, butterfly).itertuples():
        words = f"{look.looks}; {look.where_found}"
        rows.append((f"{look.stage}_looks", words, "", row_source(str(look.source_kind), str(look.source))))
    rows.append(("winter", winter_words(knowledge, butterfly), "", worked))
    for host in knowledge.hosts_of(butterfly).itertuples():
        words = f"{knowledge.plants.loc[[host.plant]].iloc[0]['common_name']} ({host.plant}), {host.use}"
        rows.append(("eats", words, "", row_source(str(host.source_kind), str(host.source))))
    return _with_citations(knowledge, rows)


def _values(knowledge: Knowledge, table: str, name: str) -> list[Row]:
    row = (knowledge.plants if table == "plants" else knowledge.butterflies).loc[[name]].iloc[0]
    return [
        (
            str(field),
            value,
            unit_of(table, str(field)),
            "" if field in NAMES else str(value_source(knowledge, table, name, str(field))),
        )
        for field, value in row.items()
        if field not in NOT_VALUES and value != "" and not pd.isna(value)
    ]


def _with_citations(knowledge: Knowledge, rows: list[Row]) -> pd.DataFrame:
    cited = citations(knowledge, [row[3] for row in rows])
    rows += [(f"source {r.key}", r.citation, "", "") for r in cited.itertuples()]
    return pd.DataFrame(rows, columns=["field", "value", "unit", "source"])

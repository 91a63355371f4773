"""Looking things up in the tables, as the commands ``habitat plants`` and ``habitat butterflies`` do."""

from __future__ import annotations

import pandas as pd

from habitat.errors import NotFoundError
from habitat.knowledge.names import NameMatch, resolve_butterflies, resolve_plants
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import bloom_months, flight_months, months_text

SHADE_BELOW_H = 4.0
"""A plant is content in shade if its full range of sun starts below this: common practice (part shade 2-4 h)."""


def accepted_plant(knowledge: Knowledge, name: str) -> str:
    """Return the accepted name of a plant.

    Raises
    ------
    NotFoundError
        If it is not in the tables; the text names what comes close.
    """
    return _accepted(resolve_plants([name], knowledge)[0], "plant")


def accepted_butterfly(knowledge: Knowledge, name: str) -> str:
    """Return the accepted name of a butterfly; raises as ``accepted_plant``."""
    return _accepted(resolve_butterflies([name], knowledge)[0], "butterfly")


def _accepted(match: NameMatch, kind: str) -> str:
    if match.accepted is None:
        hint = f"Did you mean {' or '.join(match.suggestions)}?" if match.suggestions else ""
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
    """Return every value of a plant and where it comes from: field, value, unit, source."""
    return _describe(knowledge.plants.loc[accepted_plant(knowledge, name)])


def describe_butterfly(knowledge: Knowledge, name: str) -> pd.DataFrame:
    """Return every value of a butterfly and where it comes from: field, value, unit, source."""
    return _describe(knowledge.butterflies.loc[accepted_butterfly(knowledge, name)])


def _describe(row: pd.Series[object]) -> pd.DataFrame:
    checked = str(row.get("checked_fields") or "").split(";")
    rows = [
        {"field": f, "value": v, "unit": "", "source": str(row["source"]) if f in checked else "memory"}
        for f, v in row.items()
        if f not in ("source", "source_kind", "checked_fields")
    ]
    return pd.DataFrame(rows, columns=["field", "value", "unit", "source"])

"""The knowledge tables as one typed value."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import pandas as pd

from habitat.study import KnowledgeSettings

PREFERENCE = {"primary": 1.0, "secondary": 0.5}
"""Worth of a host's leaf to a butterfly: judgement."""


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Plants, butterflies and who eats what, checked.

    plants, butterflies : indexed by scientific_name, columns as in the shipped tables (months as integers, lists as
    text with ``;``). hosts : a row per butterfly and taxon as written. host_plants : hosts expanded to the plants of
    the table: butterfly, plant, use, preference, source, source_kind. synonyms, lookalikes, sources : as shipped.
    practice : indexed by id; value is a float.
    """

    region: str
    plants: pd.DataFrame
    butterflies: pd.DataFrame
    hosts: pd.DataFrame
    host_plants: pd.DataFrame
    synonyms: pd.DataFrame
    lookalikes: pd.DataFrame
    practice: pd.DataFrame
    sources: pd.DataFrame

    def practice_value(self, rule: str) -> float:
        """Return the number of a rule of practice, in the unit that the table states."""
        return float(self.practice.loc[rule, "value"])

    def hosts_of(self, butterfly: str) -> pd.DataFrame:
        """Return the host plants of a butterfly: plant, use, preference."""
        return self.host_plants[self.host_plants["butterfly"] == butterfly]

    def eaters_of(self, plant: str) -> pd.DataFrame:
        """Return the butterflies that breed on a plant: butterfly, use, preference."""
        return self.host_plants[self.host_plants["plant"] == plant]


def load_knowledge(settings: KnowledgeSettings, folder: Path | None = None) -> Knowledge:
    """Read the shipped tables and lay the study's own over them."""
    del folder
    shipped = files("habitat.knowledge") / "data"
    read = {
        name: pd.read_csv(str(shipped / f"{name}.csv"))
        for name in (
            "plants",
            "butterflies",
            "hosts",
            "synonyms",
            "lookalike_warnings",
            "practice",
            "sources",
        )
    }
    plants = read["plants"].set_index("scientific_name", drop=False)
    butterflies = read["butterflies"].set_index("scientific_name", drop=False)
    hosts = read["hosts"].rename(columns={"scientific_name": "butterfly"})
    return Knowledge(
        settings.region,
        plants,
        butterflies,
        hosts,
        _expand(hosts, plants),
        read["synonyms"],
        read["lookalike_warnings"],
        read["practice"].set_index("id", drop=False),
        read["sources"],
    )


def _expand(hosts: pd.DataFrame, plants: pd.DataFrame) -> pd.DataFrame:
    genus = plants["scientific_name"].str.split().str[0]
    rows = []
    for host in hosts.itertuples():
        key = {"species": plants["scientific_name"], "genus": genus, "family": plants["family"]}[host.rank]
        rows += [
            (host.butterfly, plant, host.use, PREFERENCE[host.use], host.source, host.source_kind)
            for plant in plants.index[key == host.host_taxon]
        ]
    frame = pd.DataFrame(rows, columns=["butterfly", "plant", "use", "preference", "source", "source_kind"])
    frame = frame.sort_values(["butterfly", "plant", "preference"], ascending=[True, True, False])
    return frame.drop_duplicates(["butterfly", "plant"]).reset_index(drop=True)

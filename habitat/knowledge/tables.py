"""The knowledge tables as one typed value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import pandas as pd

from habitat.errors import KnowledgeError
from habitat.knowledge.checking import check_between, check_rows, in_region, own_left_out, typed
from habitat.knowledge.reading import TextTable, read_text_table
from habitat.knowledge.schema import SCHEMAS
from habitat.settings.knowledge import KnowledgeSettings

T = TypeVar("T")

PREFERENCE = {"primary": 1.0, "secondary": 0.5}
"""Worth of a host's leaf to a butterfly: judgement."""

_SPECIFIC = {"species": 0, "genus": 1, "family": 2}


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Plants, butterflies and who eats what, checked.

    plants, butterflies : indexed by scientific_name, columns as in the shipped tables (months as integers,
    lists as text with ``;``, blank text "", blank numbers NaN). hosts : a row per butterfly and taxon as
    written. host_plants : hosts expanded to the plants of the table: butterfly, plant, use, preference,
    source, source_kind. synonyms, lookalikes, sources, stages, brood_needs, cautions : as shipped.
    practice : indexed by id; value is a float. own_cells : (table, key, column) -> source of an own value.
    set_aside : a sentence per own file and region whose rows are left out. memo : what ``once`` keeps.
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
    stages: pd.DataFrame
    brood_needs: pd.DataFrame
    cautions: pd.DataFrame
    own_cells: dict[tuple[str, str, str], str] = field(default_factory=dict)
    set_aside: tuple[str, ...] = ()
    memo: dict[tuple[str, ...], Any] = field(default_factory=dict, repr=False, compare=False)

    def once(self, make: Callable[[], T], *key: str) -> T:
        """Return what ``make`` returns, worked out once per key: the tables do not change."""
        if key not in self.memo:
            self.memo[key] = make()
        found: T = self.memo[key]
        return found

    def practice_value(self, rule: str) -> float:
        """Return the number of a rule of practice, in the unit that the table states."""
        return float(self.practice["value"].loc[rule])

    def hosts_of(self, butterfly: str) -> pd.DataFrame:
        """Return the host plants of a butterfly: plant, use, preference."""
        return self.host_plants[self.host_plants["butterfly"] == butterfly]

    def eaters_of(self, plant: str) -> pd.DataFrame:
        """Return the butterflies that breed on a plant: butterfly, use, preference."""
        return self.host_plants[self.host_plants["plant"] == plant]


def load_knowledge(settings: KnowledgeSettings, folder: Path | None = None) -> Knowledge:
    """Read the shipped tables, lay the study's own over them, and check everything at once.

    Own tables have the columns of the shipped ones, as many as are needed: a row whose key is there already
    replaces only the cells it fills, any other row is added. Their rows count for the study's region, but for
    those that name another one.

    Parameters
    ----------
    settings
        ``[knowledge]`` of the study: the region, and the paths of own tables.
    folder
        Where relative paths start; the current folder if None.

    Raises
    ------
    KnowledgeError
        With every fault found: file, row, column, rule.
    MissingFileError
        If an own table is not there.

    Examples
    --------
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> "Danaus plexippus" in set(knowledge.eaters_of("Asclepias syriaca")["butterfly"])
    True
    """
    faults: list[str] = []
    tables = {name: read_text_table(name, _own_path(settings, name, folder), faults) for name in SCHEMAS}
    for table in tables.values():
        check_rows(table, faults)
    check_between(tables, settings.region, faults)
    if faults:
        raise KnowledgeError(faults)
    return _assembled(tables, settings.region)


def _own_path(settings: KnowledgeSettings, name: str, folder: Path | None) -> Path | None:
    given = getattr(settings, name, None)
    if given is None:
        return None
    path = Path(given)
    return path if path.is_absolute() or folder is None else folder / path


def _assembled(tables: dict[str, TextTable], region: str) -> Knowledge:
    frames = {name: typed(table, in_region(table, region)) for name, table in tables.items()}
    accepted = dict(zip(frames["synonyms"]["old_name"], frames["synonyms"]["accepted_name"], strict=True))
    plants = frames["plants"].set_index("scientific_name", drop=False)
    butterflies = frames["butterflies"].set_index("scientific_name", drop=False)
    hosts = frames["hosts"].rename(columns={"scientific_name": "butterfly"})
    hosts = hosts.replace({"butterfly": accepted, "host_taxon": accepted})
    for frame in (plants, butterflies):
        frame.index.name = None
    host_plants, narrow = _expand(hosts, plants)
    plants["is_host"] = plants["is_host"] | plants.index.isin(list(narrow))
    looks = frames["lookalikes"]
    looks["plant_instead"] = looks["plant_instead"].where(looks["plant_instead"].isin(plants.index), "")
    own = {(n, " / ".join(k), c): s for n, t in tables.items() for (k, c), s in t.own.items()}
    return Knowledge(
        region=region,
        plants=plants,
        butterflies=butterflies,
        hosts=hosts,
        host_plants=host_plants,
        synonyms=frames["synonyms"],
        lookalikes=looks,
        practice=frames["practice"].set_index("id", drop=False),
        sources=frames["sources"],
        stages=frames["stages"],
        brood_needs=frames["brood_needs"],
        cautions=frames["cautions"],
        own_cells=own,
        set_aside=tuple(words for table in tables.values() for words in own_left_out(table, region)),
    )


def _expand(hosts: pd.DataFrame, plants: pd.DataFrame) -> tuple[pd.DataFrame, set[str]]:
    """Return hosts by plant (the most specific row counts), and the plants named by species or genus."""
    keys = {
        "species": plants["scientific_name"],
        "genus": plants["scientific_name"].str.split().str[0],
        "family": plants["family"],
    }
    best: dict[tuple[str, str], tuple[int, float, tuple[str, str, float, str, str]]] = {}
    for host in hosts.to_dict(orient="records"):
        chosen = keys[host["rank"]] == host["host_taxon"]
        if host["only_herbaceous"]:
            chosen &= plants["life_span"] != "woody"
        worth = PREFERENCE.get(host["use"], 0.0)
        rank = (_SPECIFIC[host["rank"]], -worth)
        for plant in plants.index[chosen]:
            found = (*rank, (str(plant), host["use"], worth, host["source"], host["source_kind"]))
            key = (host["butterfly"], str(plant))
            best[key] = min(best.get(key, found), found, key=lambda entry: entry[:2])
    rows = [(fly, *entry[2]) for (fly, _), entry in sorted(best.items()) if entry[2][1] != "none"]
    narrow = {plant for (_, plant), entry in best.items() if entry[0] < 2 and entry[2][1] != "none"}
    columns = ["butterfly", "plant", "use", "preference", "source", "source_kind"]
    return pd.DataFrame(rows, columns=columns), narrow

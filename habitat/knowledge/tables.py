"""The knowledge tables as one typed value."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import pandas as pd

from habitat.errors import KnowledgeError
from habitat.knowledge.checking import check_between, check_rows, typed
from habitat.knowledge.reading import TextTable, counted_as_words, left_out_words, read_text_table
from habitat.knowledge.region import Region, find_region, shipped_regions
from habitat.knowledge.schema import SCHEMAS
from habitat.settings.knowledge import KnowledgeSettings

T = TypeVar("T")

PREFERENCE = {"primary": 1.0, "secondary": 0.5}
"""Worth of a host's leaf to a butterfly: judgement."""

_SPECIFIC = {"species": 0, "genus": 1, "family": 2}


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Plants, butterflies and who eats what in one region, checked.

    region : what is true of the region itself. plants, butterflies : indexed by scientific_name, columns as
    in ``schema.py`` (months as integers, lists as text with ``;``, blank text "", blank numbers NaN). hosts
    : a row per butterfly and taxon as written. host_plants : hosts expanded to the plants of the table:
    butterfly, plant, preference, use, lays ("no": caterpillars that hatched elsewhere eat it), eaten_when,
    part_eaten, source, source_kind; doubtful_hosts : the like, which close no life cycle and are told.
    practice : indexed by id; value is a float. hazard_classes, spread_classes, native_states : by plant.
    The others are as in the files, but for rows about a plant or butterfly that is not in these tables:
    every name that a synonym stands for is in them. states : two-letter codes of
    the states in which plants must be native. own_cells : (table, key, column) -> source of an own
    value. set_aside : a sentence per own file and region whose rows are left out, and on what blanks of new
    own rows count as. memo : what ``once`` keeps.
    """

    region: Region
    plants: pd.DataFrame
    butterflies: pd.DataFrame
    hosts: pd.DataFrame
    host_plants: pd.DataFrame
    doubtful_hosts: pd.DataFrame
    practice: pd.DataFrame
    synonyms: pd.DataFrame
    lookalikes: pd.DataFrame
    sources: pd.DataFrame
    stages: pd.DataFrame
    brood_needs: pd.DataFrame
    cautions: pd.DataFrame
    hazard_classes: pd.DataFrame
    spread_classes: pd.DataFrame
    native_states: pd.DataFrame
    moth_care: pd.DataFrame
    genus_words: pd.DataFrame
    states: tuple[str, ...] = ()
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
        """Return the host plants of a butterfly: plant, preference, use, lays; without doubtful ones."""
        return self.host_plants[self.host_plants["butterfly"] == butterfly]

    def doubtful_of(self, butterfly: str) -> frozenset[str]:
        """Return the plants that are hosts of a butterfly in doubt: they close no life cycle and are told."""
        return self.once(lambda: self._doubtful_of(butterfly), "doubtful", butterfly)

    def _doubtful_of(self, butterfly: str) -> frozenset[str]:
        rows = self.doubtful_hosts
        return frozenset(rows.loc[rows["butterfly"] == butterfly, "plant"].astype(str))

    def eaters_of(self, plant: str) -> pd.DataFrame:
        """Return the butterflies that breed on a plant: butterfly, use, preference."""
        return self.host_plants[self.host_plants["plant"] == plant]

    def least_host(self, plants: Sequence[str]) -> str | None:
        """Return the plant that feeds what all of some plants feed and nothing more; None if none does."""
        fed = {plant: frozenset(self.eaters_of(plant)["butterfly"]) for plant in plants}
        shared = frozenset.intersection(*fed.values()) if fed else frozenset()
        return next((plant for plant, mine in fed.items() if mine == shared), None)

    def uncounted(self, more: Iterable[tuple[str, ...]] = ()) -> frozenset[tuple[str, ...]]:
        """Return genera, each alone and some together, for which no plant stands as ``least_host``."""
        of: dict[str, list[str]] = {}
        for name in self.plants.index:
            of.setdefault(str(name).split(maxsplit=1)[0], []).append(str(name))
        asked = {(genus,) for genus in of} | set(more)
        return frozenset(g for g in asked if self.least_host([p for one in g for p in of[one]]) is None)


def load_knowledge(settings: KnowledgeSettings | None = None, folder: Path | None = None) -> Knowledge:
    """Read the tables of a region, lay the study's own over them, and check everything at once.

    A region's folder brings what is true of it; shared tables are used for the plants and butterflies that it
    knows. Own tables have the columns of the shipped ones, as many as are needed: a row whose key is there
    already replaces only the cells it fills, any other row is added. Their rows count for the study's region,
    but for those that name another one.

    Parameters
    ----------
    settings
        ``[knowledge]`` of a study: the region or a folder of its own, and the paths of own tables; None for
        the shipped tables of the usual region.
    folder
        Where relative paths start; the current folder if None.

    Raises
    ------
    KnowledgeError
        With every fault found: file, row, column, rule.
    MissingFileError
        If an own table, or ``region.toml`` of an own folder, is not there.

    Examples
    --------
    >>> knowledge = load_knowledge()
    >>> "Danaus plexippus" in set(knowledge.eaters_of("Asclepias syriaca")["butterfly"])
    True
    """
    settings = settings or KnowledgeSettings()
    faults: list[str] = []
    region = find_region(settings.region, _own_path(settings, "region_folder", folder))
    tables = {
        name: read_text_table(name, region, _own_path(settings, name, folder), faults) for name in SCHEMAS
    }
    for table in tables.values():
        check_rows(table, faults)
    check_between(tables, region.id, sorted(shipped_regions()), faults)
    if faults:
        raise KnowledgeError(faults)
    return _assembled(tables, region)


def _own_path(settings: KnowledgeSettings, name: str, folder: Path | None) -> Path | None:
    given = getattr(settings, name, None)
    if given is None:
        return None
    path = Path(given)
    return path if path.is_absolute() or folder is None else folder / path


def _assembled(tables: dict[str, TextTable], region: Region) -> Knowledge:
    frames = {name: typed(table) for name, table in tables.items()}
    plants = frames.pop("plants").set_index("scientific_name", drop=False).rename_axis(index=None)
    butterflies = frames.pop("butterflies").set_index("scientific_name", drop=False).rename_axis(index=None)
    frames["synonyms"] = _that_lead_here(frames["synonyms"], plants, butterflies, frames["lookalikes"])
    synonyms = frames["synonyms"]
    accepted = dict(zip(synonyms["old_name"], synonyms["accepted_name"], strict=True))
    hosts = frames.pop("hosts").rename(columns={"scientific_name": "butterfly"})
    hosts = hosts.replace({"butterfly": accepted, "host_taxon": accepted})
    expanded, narrow = _expand(hosts, plants)
    doubtful = expanded["lays"] == "doubtful"
    eaten = plants.index.isin(expanded.loc[~doubtful, "plant"])
    plants["is_host"] = (plants["is_host"] & eaten) | plants.index.isin(list(narrow))
    return Knowledge(
        region=region,
        plants=plants,
        butterflies=butterflies,
        hosts=hosts,
        host_plants=expanded[~doubtful].reset_index(drop=True),
        doubtful_hosts=expanded[doubtful].reset_index(drop=True),
        practice=frames["practice"].set_index("id", drop=False),
        synonyms=synonyms,
        lookalikes=frames["lookalikes"],
        sources=frames["sources"],
        stages=frames["stages"],
        brood_needs=frames["brood_needs"],
        cautions=frames["cautions"],
        hazard_classes=_of_plants(frames["hazard_classes"], plants),
        spread_classes=_of_plants(frames["spread_classes"], plants),
        native_states=_of_plants(frames["native_states"], plants),
        moth_care=frames["moth_care"],
        genus_words=frames["genus_words"],
        own_cells={(n, " / ".join(k), c): s for n, t in tables.items() for (k, c), s in t.own.items()},
        set_aside=tuple(
            words
            for table in tables.values()
            for words in (*left_out_words(table, region.id), *counted_as_words(table))
        ),
    )


def _of_plants(frame: pd.DataFrame, plants: pd.DataFrame) -> pd.DataFrame:
    """Return the rows that are about a plant of the tables, by its name."""
    frame = frame.set_index("scientific_name", drop=False).rename_axis(index=None)
    return frame[frame.index.isin(plants.index)]


def _that_lead_here(
    synonyms: pd.DataFrame, plants: pd.DataFrame, butterflies: pd.DataFrame, looks: pd.DataFrame
) -> pd.DataFrame:
    """Return the synonyms whose accepted name is in the tables of the region."""
    names = {
        "plant": plants.index,
        "butterfly": butterflies.index,
        "lookalike": looks["lookalike_scientific_name"],
    }
    here = [
        accepted in set(names[kind])
        for accepted, kind in zip(synonyms["accepted_name"], synonyms["kind"], strict=True)
    ]
    return synonyms[here].reset_index(drop=True)


HOST_COLUMNS = ("use", "source", "source_kind", "lays", "eaten_when", "part_eaten", "doubt")


def _expand(hosts: pd.DataFrame, plants: pd.DataFrame) -> tuple[pd.DataFrame, set[str]]:
    """Return hosts by plant (the most specific row counts), and the plants named by species or genus."""
    keys = {
        "species": plants["scientific_name"],
        "genus": plants["scientific_name"].str.split().str[0],
        "family": plants["family"],
    }
    best: dict[tuple[str, str], tuple[int, float, dict[str, Any]]] = {}
    for host in hosts.to_dict(orient="records"):
        chosen = keys[host["rank"]] == host["host_taxon"]
        if host["only_herbaceous"]:
            chosen &= plants["life_span"] != "woody"
        worth = PREFERENCE.get(host["use"], 0.0)
        found = (_SPECIFIC[host["rank"]], -worth, {"preference": worth} | {c: host[c] for c in HOST_COLUMNS})
        for plant in plants.index[chosen]:
            key = (host["butterfly"], str(plant))
            best[key] = min(best.get(key, found), found, key=lambda entry: entry[:2])
    kept = {key: entry for key, entry in sorted(best.items()) if entry[2]["use"] != "none"}
    rows = [{"butterfly": fly, "plant": plant} | entry[2] for (fly, plant), entry in kept.items()]
    narrow = {plant for (_, plant), entry in kept.items() if entry[0] < 2 and entry[2]["lays"] == "yes"}
    return pd.DataFrame(rows, columns=["butterfly", "plant", "preference", *HOST_COLUMNS]), narrow

"""Keeping people, pets and caterpillars from harm: cautions, yards without hosts, look-alikes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial

import pandas as pd

from habitat.knowledge.columns import split_list
from habitat.knowledge.hazards import (
    containing_words,
    hazard_action,
    keep_away_m,
    needs_containing,
    stands_away,
    who_lives,
)
from habitat.knowledge.names import ACTIONS, resolve_plants
from habitat.knowledge.tables import Knowledge
from habitat.knowledge.year import winter_place

THIRSTY_ROOTS = ("Salix", "Ulmus", "Populus")
RESINOUS = ("Juniperus",)
SAME_MATTER = {"toxic_children": "toxic_note", "toxic_pets": "toxic_pets_note", "deer_cage": "rabbit_cage"}
"""A caution for this yard, and the general one that it makes needless."""


@dataclass(frozen=True, slots=True, kw_only=True)
class YardFlags:
    """What a household says about its yard, as in the participants table; ``poisonous`` one of ANSWERS."""

    sprayed: bool = False
    children: bool = False
    pets: bool = False
    deer: bool = False
    septic: bool = False
    poisonous: str = ""


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: its words, the plants it is about (empty: all), and where it comes from."""

    id: str
    words: str
    plants: tuple[str, ...]
    source: str

    def __str__(self) -> str:
        return f"{self.words} ({', '.join(self.plants)})." if self.plants else f"{self.words}."


def cautions(knowledge: Knowledge, plants: Sequence[str], flags: YardFlags | None = None) -> list[Caution]:
    """Return the cautions that apply to these plants in this yard, most general last.

    Parameters
    ----------
    plants
        Accepted names.
    flags
        What is known of the yard; None if nothing is.
    """
    flags = flags or YardFlags()
    tags = {name: knowledge.once(partial(_tags, knowledge, name), "tags", name) for name in plants}
    found = []
    for row in knowledge.cautions.itertuples():
        if row.when != "always" and not getattr(flags, str(row.when)):
            continue
        but = set(split_list(str(row.not_for)))
        touched = tuple(name for name, mine in tags.items() if row.applies_to in mine and not but & mine)
        if touched:
            named = () if row.applies_to in ("any", "host") else touched
            found.append(Caution(str(row.id), str(row.words).rstrip("."), named, str(row.source)))
    needless = {SAME_MATTER[c.id] for c in found if c.id in SAME_MATTER}
    kept = [c for c in found if c.id not in needless]
    kept += [
        *_poison(knowledge, tags, flags),
        *_spread(knowledge, list(tags)),
        *_company(knowledge, list(tags)),
    ]
    return sorted(kept, key=lambda c: not c.plants)


def _poison(knowledge: Knowledge, tags: dict[str, set[str]], flags: YardFlags) -> list[Caution]:
    """Return what to ask a household of poisonous plants, and whom to call after a mishap."""
    out = []
    children, pets = who_lives(flags.children, flags.pets, flags.poisonous)
    actions = {p: hazard_action(knowledge, p, children=children, pets=pets) for p in tags}
    off = {p: action for p, action in actions.items() if stands_away(action, flags.poisonous)}
    for far, named in _by_distance(knowledge, (p for p, action in off.items() if action == "ask")):
        question = f"Ask the household before planting: poisonous if eaten; if it stays, {far}"
        out.append(Caution("ask_household", question, named, "judgement"))
    for far, named in _by_distance(knowledge, (p for p, action in off.items() if action != "ask")):
        words = f"Poisonous if eaten or handled: keep it {far}"
        out.append(Caution("keep_away", words, named, "judgement"))
    harmful = [mine for mine in tags.values() if {"toxic_if_eaten", "skin_irritant"} & mine]
    if knowledge.region.poison_help and harmful:
        out.append(Caution("poison_help", knowledge.region.poison_help, (), "common practice"))
    bad_for_animals = pets and any("toxic_to_pets" in mine for mine in tags.values())
    if knowledge.region.poison_help_animals and bad_for_animals:
        out.append(
            Caution("poison_help_animals", knowledge.region.poison_help_animals, (), "common practice")
        )
    return out


def _by_distance(knowledge: Knowledge, plants: Iterable[str]) -> list[tuple[str, tuple[str, ...]]]:
    """Return how far plants keep from people, in words, with those that do, the nearest first."""
    far: dict[float, list[str]] = {}
    for plant in plants:
        far.setdefault(keep_away_m(knowledge, plant), []).append(plant)
    return [(f"at least {m:g} m from play ground, doors and paths", tuple(far[m])) for m in sorted(far)]


def _spread(knowledge: Knowledge, plants: list[str]) -> list[Caution]:
    """Return what holds plants that spread in their place, a caution for each way."""
    ways: dict[str, list[str]] = {}
    for plant in plants:
        if things := needs_containing(knowledge, plant):
            ways.setdefault(containing_words(things), []).append(plant)
    return [
        Caution(
            f"contain {words}",
            f"Spreads; what holds it in its place: {words}",
            tuple(names),
            "common practice",
        )
        for words, names in ways.items()
    ]


def _company(knowledge: Knowledge, plants: list[str]) -> list[Caution]:
    """Return which plants live on the roots of others, and of which."""
    out = []
    for plant in plants:
        if taxa := split_list(str(knowledge.plants.at[plant, "companions"])):
            words = f"Lives on the roots of others: sow it within 0.3 m of {' or '.join(taxa)}"
            out.append(Caution(f"company {' '.join(taxa)}", words, (plant,), "judgement"))
    return out


def companions_of(knowledge: Knowledge, plant: str) -> frozenset[str]:
    """Return the plants of the tables on whose roots a plant lives, empty for one that needs no company."""
    taxa = split_list(str(knowledge.plants.at[plant, "companions"]))
    if not taxa:
        return frozenset()
    plants = knowledge.plants
    genus = plants["scientific_name"].str.split().str[0]
    mine = plants["scientific_name"].isin(taxa) | genus.isin(taxa) | plants["family"].isin(taxa)
    return frozenset(plants.index[mine]) - {plant}


def moth_care(knowledge: Knowledge, moths: Iterable[str]) -> list[Caution]:
    """Return what to do or leave undone for some moths, as the table says it; () where none is a moth."""
    table = knowledge.butterflies
    mine = [name for name in moths if table.at[name, "kind"] == "moth"]
    out = []
    for row in knowledge.moth_care.itertuples():
        about = set(split_list(str(row.applies_to)))
        if any(row.rank == "all" or about & {_taxon(table, name, str(row.rank))} for name in mine):
            out.append(Caution(str(row.id), str(row.words).rstrip("."), (), str(row.source)))
    return out


def _taxon(table: pd.DataFrame, name: str, rank: str) -> str:
    if rank == "genus":
        return name.split(maxsplit=1)[0]
    return name if rank == "species" else str(table.at[name, rank])


def no_host_reason(knowledge: Knowledge, flags: YardFlags) -> str:
    """Return why a yard must get no host plants, or "" if it may."""
    rows = knowledge.cautions[knowledge.cautions["effect"] == "no_hosts"]
    return next((str(r.words) for r in rows.itertuples() if getattr(flags, str(r.when), False)), "")


def _tags(knowledge: Knowledge, plant: str) -> set[str]:
    """Return everything that a caution can name about a plant."""
    row = knowledge.plants.loc[[plant]].iloc[0]
    genus = plant.split(maxsplit=1)[0]
    notes = str(row["notes"]).lower()
    tags = {"any", str(row["form"]), str(row["family"]), genus, plant, *split_list(str(row["hazards"]))}
    young_woody = row["life_span"] == "woody" and row["form"] != "vine" and genus not in RESINOUS
    rules = {
        "host": bool(row["is_host"]),
        "aggressive_spread": bool(row["aggressive_spread"]),
        "thirsty_roots": genus in THIRSTY_ROOTS,
        "resinous": genus in RESINOUS,
        "browsed": young_woody or "deer" in notes or "rabbit" in notes,
    }
    places = {
        winter_place(knowledge.butterflies.loc[[b]].iloc[0]) for b in knowledge.eaters_of(plant)["butterfly"]
    }
    rules |= {"litter_brood": "leaf_litter" in places, "stem_brood": "on_stem" in places}
    return tags | {name for name, holds in rules.items() if holds}


def harmful_plants(knowledge: Knowledge, names: Sequence[str]) -> pd.DataFrame:
    """Return the look-alike and harmful plants among names that people wrote.

    Returns
    -------
    DataFrame
        A row per name that is one: position, name, lookalike, reason, action (words), plant_instead, source.
    """
    looks = knowledge.lookalikes.drop_duplicates("lookalike_scientific_name")
    looks = looks.set_index("lookalike_scientific_name")
    rows = []
    for position, match in enumerate(resolve_plants(names, knowledge)):
        if match.how == "look-alike":
            row = looks.loc[[match.lookalikes[0]]].iloc[0]
            rows.append(
                (
                    position,
                    match.given,
                    match.lookalikes[0],
                    row["reason"],
                    ACTIONS[str(row["action"])],
                    row["plant_instead"],
                    row["source"],
                )
            )
    columns = ["position", "name", "lookalike", "reason", "action", "plant_instead", "source"]
    return pd.DataFrame(rows, columns=columns)


def lookalikes_of(knowledge: Knowledge, plants: Iterable[str]) -> pd.DataFrame:
    """Return what passes for some plants: plant, lookalike, common_name, reason, action, source, its kind."""
    looks = knowledge.lookalikes
    rows = [
        (
            plant,
            r.lookalike_scientific_name,
            r.lookalike_common_name,
            r.reason,
            ACTIONS[str(r.action)],
            r.source,
            r.source_kind,
        )
        for plant in dict.fromkeys(plants)
        for r in looks[looks["native_taxon"].isin([plant, plant.split()[0]])].itertuples()
    ]
    columns = ["plant", "lookalike", "common_name", "reason", "action", "source", "source_kind"]
    return pd.DataFrame(rows, columns=columns)

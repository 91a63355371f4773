"""Names: what people wrote, resolved to the accepted name or left open with suggestions; never guessed."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import pandas as pd

from habitat.knowledge.columns import split_list
from habitat.knowledge.nearest import (
    BUTTERFLIES,
    BUTTERFLY_WORDS,
    GARDEN,
    NO_KIND,
    TREES,
    Near,
    alike,
    nearest,
    ranked,
    words_of,
)
from habitat.knowledge.tables import Knowledge

HYBRID_SIGNS = {"x", "×", "✕"}
JOINERS = {"or", "and", "and/or", "/", "+"}
UNCERTAIN = {"cf", "aff", "cf.", "aff.", "nr", "near", "?"}
RANKS = {"subsp", "subsp.", "ssp", "ssp.", "var", "var.", "f", "f.", "forma", "variety", "subspecies"}
ACTIONS = {
    "avoid": "Do not plant it",
    "avoid_and_remove": "Do not plant it; take it out where it stands, in gloves and long sleeves",
    "avoid_prefer_native": "A native plant serves better",
    "do_not_count_as_host": "It is no host",
    "handle_with_care": "Do not touch it; have it removed by somebody who knows it",
    "never_plant": "Never plant it, and never eat or handle it",
    "prefer_wild_form": "Ask for the wild form",
}
LONGEST = 200
"""Longer text is no name [letters]: judgement; the longest names of the tables have about 60."""

SUGGESTED = 300
"""So many names that no table holds are compared with all in them; a list with more is of other things."""

LOOSE = {
    "old", "big", "large", "small", "little", "young", "mature", "tall", "native", "wild", "tree", "bush",
    "shrub", "vine", "plant", "seedling", "sapling", "some", "few", "several", "a", "the", "our", "my",
    "unknown",
}  # fmt: skip
"""Words beside a name that say nothing of its kind."""

GENUS_ONLY = {"sp", "sp.", "spp", "spp.", "species"}


@dataclass(frozen=True, slots=True)
class NameMatch:
    """What a name came to.

    ``accepted`` is the name in the tables, or None. ``how``: "exact", "case", "authority", "variety",
    "selection", "synonym", "common name"; where nothing was accepted "look-alike", "hybrid", "uncertain",
    "genus", "ambiguous", "another thing" (a butterfly's name for a plant), "unknown" or "empty".
    ``suggestions`` are accepted names that come close (or the species of a genus), the likeliest first;
    none of them is taken unasked. ``note`` says in words what people should know, empty for a plain match.
    ``lookalikes`` are plants that pass for it. Where the name is that of a whole genus, ``genera`` names it
    and ``certainty`` is "sure", or "likely" for a word that is used of other plants too.
    """

    given: str
    accepted: str | None
    how: str
    suggestions: tuple[str, ...] = ()
    note: str = ""
    lookalikes: tuple[str, ...] = ()
    genera: tuple[str, ...] = ()
    certainty: str = ""


@dataclass(frozen=True, slots=True)
class _Index:
    """Lower-case names of one kind, each with the accepted names it stands for."""

    scientific: dict[str, str]
    synonyms: dict[str, str]
    common: dict[str, tuple[str, ...]]
    lookalikes: dict[str, str] = field(default_factory=dict)
    reasons: dict[str, str] = field(default_factory=dict)
    passes_for: dict[str, tuple[str, ...]] = field(default_factory=dict)
    called: dict[str, str] = field(default_factory=dict)
    others: dict[str, str] = field(default_factory=dict)
    """Names that the tables do not hold, and the kind each stands for."""

    foreign: dict[str, str] = field(default_factory=dict)
    """Names of what is no plant (for plants), no butterfly (for butterflies), and the kind."""

    genus_words: dict[str, tuple[tuple[str, ...], str]] = field(default_factory=dict)
    """What people call a whole genus: genera of the tables, and how sure that is."""

    uncounted: frozenset[tuple[str, ...]] = frozenset()
    foreign_words: tuple[str, ...] = ()
    is_called: str = "plant"


def resolve_plants(names: Sequence[str], knowledge: Knowledge) -> list[NameMatch]:
    """Return what each plant name came to, in order.

    Spaces, case, authorities, ranks below species, quoted selections, old names and common names are
    understood; misspellings get suggestions only. A look-alike or harmful plant of the tables is named as
    such, never accepted.

    Parameters
    ----------
    names
        As people write them.
    knowledge
        The tables.

    Returns
    -------
    list
        A match for each name: ``accepted`` (None if it is in no table), ``how``, ``suggestions``.

    Examples
    --------
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> from habitat.knowledge import load_knowledge
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> found = resolve_plants(["ASCLEPIAS syriaca L.", "Asclepias syriaka"], knowledge)
    >>> [(m.accepted, m.how) for m in found]
    [('Asclepias syriaca', 'authority'), (None, 'unknown')]
    >>> found[1].suggestions
    ('Asclepias syriaca',)
    """
    return _resolve(names, knowledge.once(lambda: _plant_index(knowledge), "names of plants"))


def resolve_butterflies(names: Sequence[str], knowledge: Knowledge) -> list[NameMatch]:
    """Return what each butterfly name came to, in order.

    Parameters
    ----------
    names
        Scientific, older or common names, as people write them; rules as for plants.
    knowledge
        The tables.

    Returns
    -------
    list
        A match for each name: ``accepted`` (None if it is in no table), ``how``, ``suggestions``.

    Examples
    --------
    >>> import habitat
    >>> tables = habitat.knowledge.load_knowledge()
    >>> [found.accepted for found in resolve_butterflies(["Speyeria cybele", "monarch"], tables)]
    ['Argynnis cybele', 'Danaus plexippus']
    """
    return _resolve(names, knowledge.once(lambda: _butterfly_index(knowledge), "names of butterflies"))


def _resolve(names: Sequence[str], index: _Index) -> list[NameMatch]:
    """Look up each distinct name once; only the first ``SUGGESTED`` that no table holds get suggestions."""
    found: dict[str, NameMatch] = {}
    unknown = 0
    for name in dict.fromkeys(map(str, names)):
        found[name] = _match(name, index, suggest=unknown < SUGGESTED)
        unknown += found[name].how == "unknown"
    return [found[str(name)] for name in names]


def resolve_butterfly(name: str, knowledge: Knowledge) -> NameMatch:
    """Return what one butterfly name came to.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> resolve_butterfly("Speyeria cybele", load_knowledge(KnowledgeSettings())).accepted
    'Argynnis cybele'
    """
    return resolve_butterflies([name], knowledge)[0]


def plant_names(knowledge: Knowledge) -> tuple[str, ...]:
    """Return every name that stands for a plant of the tables, in lower case: scientific, older, common."""
    return _known(knowledge.once(lambda: _plant_index(knowledge), "names of plants"))


def butterfly_names(knowledge: Knowledge) -> tuple[str, ...]:
    """Return every name that stands for a butterfly of the tables, in lower case."""
    return _known(knowledge.once(lambda: _butterfly_index(knowledge), "names of butterflies"))


def _known(index: _Index) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*index.scientific, *index.synonyms, *index.common)))


def plain(name: str) -> str:
    r"""Return a name with one kind of space, quote and hyphen, and without marks that no name has.

    Examples
    --------
    >>> plain("  Asclepias_syriaca \t L. ")
    'Asclepias syriaca L.'
    """
    text = unicodedata.normalize("NFKC", name).replace("_", " ")
    text = re.sub("[‘’ʼ`´]", "'", re.sub("[“”„]", '"', re.sub("[‐‑‒–—]", "-", text)))
    return " ".join(text.split())


def _butterfly_index(knowledge: Knowledge) -> _Index:
    index = _index(knowledge.butterflies, knowledge.synonyms, "butterfly")
    index.others.update(BUTTERFLIES)
    index.foreign.update(_all_names(_index(knowledge.plants, knowledge.synonyms, "plant")))
    return index


def _all_names(index: _Index) -> dict[str, str]:
    """Return every name of an index that stands for one kind only, with that kind."""
    single = {name: meant[0] for name, meant in index.common.items() if len(meant) == 1}
    return index.scientific | index.synonyms | single


def _plant_index(knowledge: Knowledge) -> _Index:
    index = _index(knowledge.plants, knowledge.synonyms, "plant")
    butterflies = _index(knowledge.butterflies, knowledge.synonyms, "butterfly")
    index.others.update(TREES | GARDEN)
    index.foreign.update(BUTTERFLIES | _all_names(butterflies))
    index.genus_words.update(words := _genus_words(knowledge))
    uncounted = knowledge.uncounted(genera for genera, _ in words.values())
    index = replace(index, foreign_words=BUTTERFLY_WORDS, uncounted=uncounted)
    looks, known = knowledge.lookalikes, set(index.scientific)
    for row in looks.itertuples():
        index.reasons.setdefault(str(row.lookalike_scientific_name), lookalike_words(row))
        for name in (str(row.lookalike_scientific_name), str(row.lookalike_common_name)):
            short = re.sub(r"\s*\(.*?\)", "", plain(name)).lower()
            if len(short) > 2 and short not in known:
                index.lookalikes.setdefault(short, str(row.lookalike_scientific_name))
    for row in knowledge.synonyms[knowledge.synonyms["kind"] == "lookalike"].itertuples():
        index.lookalikes.setdefault(str(row.old_name).lower(), str(row.accepted_name))
    for accepted in index.scientific.values():
        genus = accepted.split()[0]
        near = looks.loc[looks["native_taxon"].isin([accepted, genus]), "lookalike_common_name"]
        index.passes_for[accepted] = tuple(dict.fromkeys(near))
    return index


def _genus_words(knowledge: Knowledge) -> dict[str, tuple[tuple[str, ...], str]]:
    here = {name.split()[0] for name in knowledge.plants.index}
    rows = zip(*(knowledge.genus_words[c].astype(str) for c in ("word", "genus", "certainty")), strict=True)
    found = {word: (tuple(g for g in split_list(genera) if g in here), sure) for word, genera, sure in rows}
    return {word: meant for word, meant in found.items() if meant[0]}


def _index(table: pd.DataFrame, synonyms: pd.DataFrame, kind: str) -> _Index:
    common: dict[str, list[str]] = {}
    for row in table.itertuples():
        for name in common_names(str(row.common_name)):
            common.setdefault(name.lower(), []).append(str(row.scientific_name))
    old: dict[str, str] = {}
    for row in synonyms[synonyms["kind"] == kind].itertuples():
        if str(row.old_name)[:1].islower():
            common.setdefault(str(row.old_name).lower(), []).append(str(row.accepted_name))
        else:
            old[str(row.old_name).lower()] = str(row.accepted_name)
    scientific = {str(n).lower(): str(n) for n in table["scientific_name"]}
    shown = {str(r.scientific_name): common_names(str(r.common_name))[0] for r in table.itertuples()}
    names = {k: tuple(dict.fromkeys(v)) for k, v in common.items()}
    return _Index(scientific, old, names, called=shown, is_called=kind)


def common_names(written: str) -> tuple[str, ...]:
    """Return the common names in a cell: the name, and what stands in brackets if that is a name too.

    Examples
    --------
    >>> common_names("purple passionflower (maypop)"), common_names("garden phlox (wild form)")
    (('purple passionflower', 'maypop'), ('garden phlox',))
    """
    head = re.sub(r"\s*\(.*?\)", "", written).strip()
    inside = [p.strip() for p in re.findall(r"\((.*?)\)", written)]
    return (head, *(p for p in inside if not p.endswith("form")))


def _match(given: str, index: _Index, *, suggest: bool = True) -> NameMatch:
    text = plain(given)
    if not text:
        return NameMatch(given, None, "empty", note="no name was given")
    if len(text) > LONGEST:
        note = f"{given[:40]!r} ... is {len(text)} letters long: that is no name"
        return NameMatch(given, None, "unknown", note=note)
    found = _as_scientific(given, text, index) or _as_common(given, text, index)
    found = found or _as_genus_word(given, text, index)
    if found is None:
        return _unknown(given, text, index, suggest=suggest)
    return found


def _accept(given: str, accepted: str, how: str, index: _Index, note: str = "") -> NameMatch:
    return NameMatch(given, accepted, how, (), note, index.passes_for.get(accepted, ()))


def _as_scientific(given: str, text: str, index: _Index) -> NameMatch | None:
    if text in index.scientific.values():
        return _accept(given, text, "exact", index)
    words = text.split()
    lower = [w.lower() for w in words]
    if len(words) > 1 and any(w in HYBRID_SIGNS or w.startswith("×") for w in lower):
        note = f"{given!r} is a hybrid: not in the tables, and counted for no butterfly"
        return NameMatch(given, None, "hybrid", _of_genus(lower[0], index), note)
    if any(w in UNCERTAIN for w in lower) or text.endswith("?"):
        sure = " ".join(w for w in words if w.lower() not in UNCERTAIN).rstrip("? ")
        inner = _match(sure, index) if sure and sure != text else None
        near = (inner.accepted,) if inner and inner.accepted else (inner.suggestions if inner else ())
        return NameMatch(
            given, None, "uncertain", near, f"{given!r} is given as uncertain: not counted until it is sure"
        )
    species = " ".join(lower[:2])
    if JOINERS & set(lower[2:]) or lower[2:3] == ["&"]:  # authors are joined by & too, further on
        return _several(given, lower, index)
    if species in index.scientific:
        return _below_species(given, text, words, index.scientific[species], index)
    if species in index.synonyms:
        accepted = index.synonyms[species]
        return _accept(given, accepted, "synonym", index, f"{given!r} is an older name of {accepted}")
    if species in index.lookalikes:
        return _lookalike(given, index.lookalikes[species], index)
    return _genus(given, words, lower, index)


def _below_species(given: str, text: str, words: list[str], accepted: str, index: _Index) -> NameMatch:
    rest = words[2:]
    if not rest:
        return _accept(given, accepted, "exact" if text == accepted else "case", index)
    if any(q in " ".join(rest) for q in ("'", '"')) or rest[0].lower() in ("cv", "cv."):
        note = f"{given!r} is a garden selection, counted as {accepted}; wild forms feed more kinds"
        return _accept(given, accepted, "selection", index, note)
    if any(w.lower() in RANKS for w in rest) or rest[0].islower():
        return _accept(given, accepted, "variety", index, f"{given!r} is counted as {accepted}")
    return _accept(given, accepted, "authority", index)


def _several(given: str, lower: list[str], index: _Index) -> NameMatch | None:
    """Return the kinds that a name such as "Salix nigra or discolor" may mean; None if it holds none."""
    pairs = [*pairwise(lower), *((lower[0], word) for word in lower[2:])]
    names = [f"{genus} {epithet}" for genus, epithet in pairs]
    kinds = {index.scientific.get(n) or index.synonyms.get(n) for n in names} - {None}
    note = f"{given!r} names more than one plant: write which, each in a row of its own"
    return NameMatch(given, None, "ambiguous", tuple(sorted(filter(None, kinds))), note) if kinds else None


def _genus(given: str, words: list[str], lower: list[str], index: _Index) -> NameMatch | None:
    members = _of_genus(lower[0], index)
    alone = len(words) == 1 or lower[1] in GENUS_ONLY
    if not members or not alone or lower[0] in index.common:
        return None
    return _of_genera(given, (members[0].split()[0],), "sure", index)


def _as_genus_word(given: str, text: str, index: _Index) -> NameMatch | None:
    """Return what a word for a whole genus came to: an old oak, willows."""
    words = [word for word in words_of(text) if word not in LOOSE]
    found = index.genus_words.get(" ".join(words))
    return None if found is None else _of_genera(given, *found, index)


def _of_genera(given: str, genera: tuple[str, ...], certainty: str, index: _Index) -> NameMatch:
    members = [name for genus in genera for name in _of_genus(genus.lower(), index)]
    near = ranked(members, {}, index.called, genera[0].lower())
    held = ", ".join(near.words) + (f" and {near.more} more" if near.more else "")
    sure, counts = certainty == "sure", certainty == "sure" and genera not in index.uncounted
    other = "" if sure else ", and is used of other plants too"
    until = "counts as a host of what eats all of them" if counts else "is not counted as a host"
    note = (
        f"{given!r} names a whole genus ({' or '.join(genera)}){other}; of its kinds the tables hold {held}: "
        f"write which, if it is one of them; until then it {until}"
    )
    names = (*near.names, *(name for name in members if name not in near.names))
    return NameMatch(given, None, "genus", names, note, (), genera, certainty)


def _of_genus(genus: str, index: _Index) -> tuple[str, ...]:
    return tuple(sorted(n for n in index.scientific.values() if n.split()[0].lower() == genus))


def _as_common(given: str, text: str, index: _Index) -> NameMatch | None:
    for name in _common_forms(text):
        if name in index.common:
            accepted = index.common[name]
            if len(accepted) == 1:
                return _accept(given, accepted[0], "common name", index)
            note = f"{given!r} is a common name of several kinds: write which"
            return NameMatch(given, None, "ambiguous", accepted, note)
        if name in index.lookalikes:
            return _lookalike(given, index.lookalikes[name], index)
    return None


def _common_forms(text: str) -> Iterable[str]:
    low = text.lower()
    bare = re.sub(r"\s*\(.*?\)", "", low).strip()
    for name in dict.fromkeys((low, bare, low.replace("-", " "), bare.replace("-", " "))):
        yield name
        if name.endswith("s"):
            yield name[:-1]
        if name.endswith("es"):
            yield name[:-2]


def _lookalike(given: str, name: str, index: _Index) -> NameMatch:
    note = f"{given!r} is {name}, which does not count as habitat. {index.reasons.get(name, '')}".strip()
    return NameMatch(given, None, "look-alike", (), note, (name,))


def lookalike_words(row: Any) -> str:
    """Return why a look-alike does not serve, what to do, and what to plant instead; a row of lookalikes."""
    instead = f" Plant {row.plant_instead} instead." if row.plant_instead else ""
    return f"{str(row.reason).rstrip('.')}. {ACTIONS[str(row.action)]}.{instead}"


def _unknown(given: str, text: str, index: _Index, *, suggest: bool) -> NameMatch:
    """Say what a name that is in no table may stand for: nothing, another thing, or names that come near."""
    if found := _other_thing(given, text, index):
        return found
    if not suggest:
        note = f"{given!r} is not in the tables (compared with no name in them, as {SUGGESTED} others were)"
        return NameMatch(given, None, "unknown", (), note)
    near = nearest(text, index.scientific | index.synonyms, index.common, index.called, NO_KIND)
    other = _held_nowhere(text, index, near)
    if other is None:
        return NameMatch(given, None, "unknown", near.names, f"{given!r} {_near_words(text, near, index)}")
    if other in index.reasons:
        return _lookalike(given, other, index)
    named = "" if other.split()[0].lower() in given.lower() else f" ({other})"
    return NameMatch(given, None, "unknown", (), f"{given!r}{named} is not in the tables")


def _other_thing(given: str, text: str, index: _Index) -> NameMatch | None:
    """Return what to say of a name that says no kind at all, or of one that is of another realm."""
    words = words_of(text)
    if index.is_called == "plant" and words and all(w in NO_KIND for w in (words[0], words[-1])):
        return NameMatch(given, None, "unknown", (), f"{given!r} does not say which plant: write its kind")
    if any(name in index.others for name in _common_forms(text)):
        return None
    kind = next((index.foreign[name] for name in _common_forms(text) if name in index.foreign), "")
    if not kind and not (text.lower().split()[-1:] and text.lower().split()[-1] in index.foreign_words):
        return None
    realm = {"plant": "a butterfly or moth", "butterfly": "a plant"}[index.is_called]
    named = "" if not kind or kind.lower() == text.lower() else f" ({kind})"
    instead = "; what was seen flying belongs into sightings" if index.is_called == "plant" else ""
    note = f"{given!r} is {realm}{named}, not a {index.is_called}{instead}"
    return NameMatch(given, None, "another thing", (), note)


def _held_nowhere(text: str, index: _Index, near: Near) -> str | None:
    """Return the kind that a well-known name stands for which the tables do not hold, None if it is no such.

    A misspelt name counts as the well-known one if no name of the tables is near. A single word
    that also ends names of the tables (sage, ash) counts so if they are of another genus (prickly-ash is no
    ash).
    """
    words = words_of(text)
    bare = words[:-1] if len(words) > 1 and words[-1] in NO_KIND else words
    for name in (*_common_forms(text), " ".join(bare)):
        if name in index.others and (len(bare) > 1 or not _shares_genus(index.others[name], near)):
            return index.others[name]
    if near.of and near.of in index.others and not _shares_genus(index.others[near.of], near):
        return index.others[near.of]
    if near.names:
        return None
    best: tuple[float, str] = (0.0, "")
    for name, kind in index.others.items():
        theirs = words_of(name)
        if len(theirs) == len(bare):
            each = [alike(a, b) for a, b in zip(bare, theirs, strict=True)]
            best = max(best, (sum(each) / len(each) if all(each) else 0.0, f"perhaps {kind}"))
    return best[1] if best[0] else None


def _shares_genus(kind: str, near: Near) -> bool:
    return bool(near.of) and bool({name.split()[0] for name in near.names} & set(re.findall(r"\w+", kind)))


def _near_words(text: str, near: Near, index: _Index) -> str:
    more = f" or another of {near.more} more" if near.more else ""
    if near.of:
        exact = near.of in words_of(text)
        kind = near.of if exact else f"{near.of}, if that is meant"
        listed = ", ".join(near.words) + (f" and {near.more} more" if near.more else "")
        return f"is not in the tables; of the kind {kind}, they hold {listed}: write which, if it is one"
    if near.names:
        return f"is not in the tables; did you mean {' or '.join(near.words)}{more}?"
    genus = text.split(maxsplit=1)[0].lower()
    same = _of_genus(genus, index) if len(text.split()) > 1 else ()
    held = f"; of its genus they hold {', '.join(same[:3])}, which is another kind" if same else ""
    return f"is not in the tables{held or ', nor is any name like it'}"

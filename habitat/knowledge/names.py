"""Names: what people wrote, resolved to the accepted name or left open with suggestions; never guessed."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import pandas as pd

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
GENUS_ONLY = {"sp", "sp.", "spp", "spp.", "species"}


@dataclass(frozen=True, slots=True)
class NameMatch:
    """What a name came to.

    ``accepted`` is the name in the tables, or None. ``how``: "exact", "case", "authority", "variety",
    "selection", "synonym", "common name"; where nothing was accepted "look-alike", "hybrid", "uncertain",
    "genus", "ambiguous", "unknown" or "empty". ``suggestions`` are accepted names that come close (or the
    species of a genus); none of them is taken unasked. ``note`` says in words what people should know, empty
    for a plain match. ``lookalikes`` are plants that pass for it.
    """

    given: str
    accepted: str | None
    how: str
    suggestions: tuple[str, ...] = ()
    note: str = ""
    lookalikes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Index:
    """Lower-case names of one kind, each with the accepted names it stands for."""

    scientific: dict[str, str]
    synonyms: dict[str, str]
    common: dict[str, tuple[str, ...]]
    lookalikes: dict[str, str] = field(default_factory=dict)
    reasons: dict[str, str] = field(default_factory=dict)
    passes_for: dict[str, tuple[str, ...]] = field(default_factory=dict)


def resolve_plants(names: Sequence[str], knowledge: Knowledge) -> list[NameMatch]:
    """Return what each plant name came to, in order.

    Spaces, case, authorities, ranks below species, quoted selections, old names and common names are
    understood; misspellings get suggestions only. A look-alike or harmful plant of the tables is named as
    such, never accepted.

    Examples
    --------
    >>> from habitat.study import KnowledgeSettings
    >>> from habitat.knowledge import load_knowledge
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> found = resolve_plants(["ASCLEPIAS syriaca L.", "Asclepias syriaka"], knowledge)
    >>> [(m.accepted, m.how) for m in found]
    [('Asclepias syriaca', 'authority'), (None, 'unknown')]
    >>> found[1].suggestions
    ('Asclepias syriaca',)
    """
    index = knowledge.once(lambda: _plant_index(knowledge), "names of plants")
    memo: dict[str, NameMatch] = {}
    return [memo.setdefault(str(n), _match(str(n), index)) for n in names]


def resolve_butterflies(names: Sequence[str], knowledge: Knowledge) -> list[NameMatch]:
    """Return what each butterfly name came to, in order; rules as for plants."""
    index = knowledge.once(
        lambda: _index(knowledge.butterflies, knowledge.synonyms, "butterfly"), "names of butterflies"
    )
    return [_match(str(n), index) for n in names]


def resolve_butterfly(name: str, knowledge: Knowledge) -> NameMatch:
    """Return what one butterfly name came to.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.study import KnowledgeSettings
    >>> resolve_butterfly("Speyeria cybele", load_knowledge(KnowledgeSettings())).accepted
    'Argynnis cybele'
    """
    return resolve_butterflies([name], knowledge)[0]


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


def _plant_index(knowledge: Knowledge) -> _Index:
    index = _index(knowledge.plants, knowledge.synonyms, "plant")
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
    return _Index(scientific, old, {k: tuple(dict.fromkeys(v)) for k, v in common.items()})


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


def _match(given: str, index: _Index) -> NameMatch:
    text = plain(given)
    if not text:
        return NameMatch(given, None, "empty", note="no name was given")
    found = _as_scientific(given, text, index) or _as_common(given, text, index)
    if found is None:
        return _unknown(given, text, index)
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
    note = f"{given!r} names a genus only: not counted until the species is known"
    return NameMatch(given, None, "genus", members, note)


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


def _closest(text: str, known: list[str]) -> list[str]:
    """Return the nearest names, and those that come nearly as near."""
    close = difflib.get_close_matches(text, known, n=5, cutoff=0.72)
    ratios = [difflib.SequenceMatcher(None, name, text).ratio() for name in close]
    return [name for name, ratio in zip(close, ratios, strict=True) if ratio >= max(ratios) - 0.08]


def _sharing_a_word(text: str, known: list[str]) -> list[str]:
    """Return the names that hold the last word of a text, or the word most like it: violets, oak, milkwed."""
    last = re.findall(r"[^\W\d_]+", text)[-1:]
    words = {word for name in known for word in name.split() if len(word) > 2}
    near = difflib.get_close_matches("".join(last), sorted(words), n=1, cutoff=0.8)
    return sorted(name for name in known if near and near[0] in name.split())


def _unknown(given: str, text: str, index: _Index) -> NameMatch:
    known: dict[str, tuple[str, ...]] = {k: (v,) for k, v in (index.scientific | index.synonyms).items()}
    known |= index.common
    close = _closest(text.lower(), list(known))
    close = close or _sharing_a_word(text.lower(), list(index.common))
    names = tuple(dict.fromkeys(name for key in close for name in known[key]))[:3]
    hint = f"; did you mean {' or '.join(names)}?" if names else ""
    return NameMatch(given, None, "unknown", names, f"{given!r} is not in the tables{hint}")

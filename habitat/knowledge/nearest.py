"""Which names may be meant by one that is in no table, the likeliest first; none rather than a wrong one."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher

ALIKE, WHOLE, GENUS, SAME = 0.75, 0.85, 0.85, 0.92
"""From this likeness on (share of letters in the same order) two words, two whole common names, a word and a
genus, two whole scientific names may be the same thing misspelt: judgement, tried on the names of both tables
and of common garden plants."""

SHORT = 5
"""Words of fewer letters must be the same: pea and pear, ash and aster differ in as little as a slip."""

NEARLY = 0.08
SHOWN = 3


@dataclass(frozen=True, slots=True)
class Near:
    """Names that come near: ``names`` are accepted names, ``words`` how to say them.

    ``of`` is the kind if the name given stops short of one (any oak), ``more`` how many others there are.
    """

    names: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    of: str = ""
    more: int = 0


def singular(word: str) -> str:
    """Return an English word without its plural ending.

    Examples
    --------
    >>> [singular(w) for w in ("violets", "grasses", "cherries", "iris", "aster")]
    ['violet', 'grass', 'cherry', 'iris', 'aster']
    """
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if re.search(r"(ss|sh|ch|x)es$", word):
        return word[:-2]
    plural = len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "is", "us"))
    return word[:-1] if plural else word


def words_of(name: str) -> list[str]:
    """Return the words of a name, lower case and singular, hyphens as blanks."""
    return [singular(w) for w in re.findall(r"[^\W\d_]+(?:'[^\W\d_]+)?", name.lower().replace("-", " "))]


def alike(one: str, other: str) -> float:
    """Return how much two words look alike, from 0.75 to 1, or 0 if one is not the other misspelt."""
    if one == other:
        return 1.0
    if min(len(one), len(other)) < SHORT:
        return 0.0
    ratio = SequenceMatcher(None, one, other, autojunk=False).ratio()
    return ratio if ratio >= ALIKE else 0.0


def nearest(
    text: str,
    scientific: Mapping[str, str],
    common: Mapping[str, tuple[str, ...]],
    called: Mapping[str, str],
    no_kind: Collection[str] = (),
) -> Near:
    """Return the names that a misspelt or incomplete name may stand for.

    Parameters
    ----------
    text
        The name as written.
    scientific, common
        Lower-case names and the accepted names they stand for.
    called
        Common name of each accepted name, to show.
    no_kind
        Last words that say nothing: an oak tree is an oak.

    Examples
    --------
    >>> names = {"asclepias syriaca": "Asclepias syriaca"}
    >>> nearest("comon milkweed", names, {"common milkweed": ("Asclepias syriaca",)}, {}).names
    ('Asclepias syriaca',)
    """
    given = words_of(text)
    if len(given) > 1 and given[-1] in no_kind:
        given = given[:-1]
    if not given:
        return Near()
    heads = {words_of(name)[-1] for name in common if words_of(name)} - set(no_kind)
    if given[-1:] == given and given[0] in heads:
        return _of_a_kind(given[0], common, called)
    scores: dict[str, float] = {}
    for name, accepted in scientific.items():
        _better(scores, accepted, _scientific(given, name.split()))
    for name, meant in common.items():
        score = _common(given, words_of(name))
        for accepted in meant:
            _better(scores, accepted, score)
    if scores:
        best = max(scores.values())
        names = [n for n in scores if scores[n] >= best - NEARLY]
        return _shown(names, scores, called, "")
    head = given[-1]
    if head not in heads:  # a misspelt word of several says too little
        near = max(heads, key=lambda one: (alike(head, one), one), default="") if len(given) == 1 else ""
        head = near if near and alike(head, near) else ""
    return _of_a_kind(head, common, called) if head else Near()


def _better(scores: dict[str, float], name: str, score: float) -> None:
    if score > scores.get(name, 0.0):
        scores[name] = score


def _scientific(given: list[str], name: list[str]) -> float:
    if len(given) < 2 or len(name) < 2:
        genus = SequenceMatcher(None, given[0], singular(name[0]), autojunk=False).ratio()
        return genus if len(given) == 1 and genus >= GENUS else 0.0
    whole = SequenceMatcher(None, "".join(given), re.sub(r"\W", "", "".join(name)), autojunk=False).ratio()
    genus, species = alike(given[0], singular(name[0])), alike(given[1], singular(name[1]))
    return max((genus + species) / 2 if genus and species else 0.0, whole if whole >= SAME else 0.0)


def _common(given: list[str], name: list[str]) -> float:
    """Return how well a common name fits: all words of what is given, the last one to the last one."""
    whole = SequenceMatcher(None, "".join(given), "".join(name), autojunk=False).ratio()
    if whole >= WHOLE and len("".join(given)) > SHORT:
        return whole
    head = alike(given[-1], name[-1])
    if not head or (len(given) == 1 and len(name) > 1):
        return 0.0
    fits = [max((alike(word, other) for other in name[:-1]), default=0.0) for word in given[:-1]]
    return (head + sum(fits)) / len(given) - 0.01 * (len(name) - len(given)) if all(fits) else 0.0


def _of_a_kind(head: str, common: Mapping[str, tuple[str, ...]], called: Mapping[str, str]) -> Near:
    """Return what has a name that ends in one word: an oak, one of the milkweeds."""
    names = [n for name, meant in common.items() if words_of(name)[-1:] == [head] for n in meant]
    return _shown(list(dict.fromkeys(names)), {}, called, head)


def _shown(names: list[str], scores: dict[str, float], called: Mapping[str, str], of: str) -> Near:
    """Rank by likeness, then what is called the common one, then by common name."""

    def rank(name: str) -> tuple[float, bool, str]:
        own = called.get(name, name).lower()
        return -round(scores.get(name, 0.0), 2), not own.startswith("common "), own

    ranked = sorted(names, key=rank)
    first = tuple(ranked[:SHOWN])
    words = tuple(f"{name} ({called[name]})" if name in called else name for name in first)
    return Near(first, words, of, len(ranked) - len(first))

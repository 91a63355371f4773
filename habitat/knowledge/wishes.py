"""Which butterflies to plan for: those that people name or have seen; others only "if it lives near you"."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from habitat.knowledge.names import NameMatch, resolve_butterflies
from habitat.knowledge.tables import Knowledge


@dataclass(frozen=True, slots=True)
class Wishes:
    """``wished`` are planned for; ``offered`` are other butterflies that the same hosts would feed.

    ``because`` says why, in words; ``unresolved`` are names that came to nothing, with suggestions.
    """

    wished: tuple[str, ...]
    offered: tuple[str, ...]
    because: str
    unresolved: tuple[NameMatch, ...] = ()


def choose_wishes(knowledge: Knowledge, *, named: Sequence[str] = (), recorded: Sequence[str] = ()) -> Wishes:
    """Return the butterflies to plan for.

    Parameters
    ----------
    named
        What the group asks for, by any names; if there are any, nothing else is planned for.
    recorded
        What has been seen locally, by any names.

    Examples
    --------
    >>> from habitat.knowledge import load_knowledge
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> choose_wishes(load_knowledge(KnowledgeSettings()), recorded=["monarch"]).wished
    ('Danaus plexippus',)
    """
    asked, wrong = _accepted(knowledge, named)
    seen, odd = _accepted(knowledge, recorded)
    wished = asked or seen
    because = (
        "named by the group" if asked else "seen near by" if seen else "none was named and none is on record"
    )
    plants = set(knowledge.host_plants.loc[knowledge.host_plants["butterfly"].isin(wished), "plant"])
    near = knowledge.host_plants[knowledge.host_plants["plant"].isin(plants)]
    shared = set(near["butterfly"]) if wished else set(knowledge.butterflies.index)
    offered = tuple(b for b in sorted(shared) if b not in wished)
    return Wishes(wished, offered, because, (*wrong, *odd))


def guests(knowledge: Knowledge, wished: Sequence[str], plants: Iterable[str]) -> tuple[str, ...]:
    """Return the butterflies, by common name, that some plants feed beside those that are wished for.

    They were not planned for, since nobody named or saw them: say of them "if it lives near you".
    """
    fed = knowledge.host_plants[knowledge.host_plants["plant"].isin(set(plants))]
    others = sorted(set(fed["butterfly"]) - set(wished))
    return tuple(sorted(knowledge.butterflies.loc[others, "common_name"].astype(str)))


def _accepted(knowledge: Knowledge, names: Sequence[str]) -> tuple[tuple[str, ...], tuple[NameMatch, ...]]:
    matches = resolve_butterflies(list(dict.fromkeys(names)), knowledge)
    good = tuple(dict.fromkeys(m.accepted for m in matches if m.accepted is not None))
    return good, tuple(m for m in matches if m.accepted is None)

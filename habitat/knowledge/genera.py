"""Names of whole genera ("old oak"): which plant of the tables one stands for."""

from __future__ import annotations

from habitat.knowledge.names import NameMatch
from habitat.knowledge.tables import Knowledge


def stands_for(match: NameMatch, knowledge: Knowledge) -> str | None:
    """Return the plant that a name counts as: the accepted one, else one that stands for its genus.

    A genus that is surely meant counts as a species of it that feeds what every species of it in the tables
    feeds, and nothing more, so that nothing is claimed that the species does not bear out.

    Examples
    --------
    >>> from habitat.settings.knowledge import KnowledgeSettings
    >>> from habitat.knowledge import load_knowledge, resolve_plants
    >>> knowledge = load_knowledge(KnowledgeSettings())
    >>> (oak,) = resolve_plants(["old oak"], knowledge)
    >>> oak.accepted is None, stands_for(oak, knowledge).split()[0]
    (True, 'Quercus')
    """
    if match.accepted is not None or match.certainty != "sure":
        return match.accepted
    return knowledge.least_host(match.suggestions)

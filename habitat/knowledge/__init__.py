"""What is known: plants, butterflies, who eats what, the year."""

from habitat.knowledge.names import NameMatch, resolve_butterflies, resolve_butterfly, resolve_plants
from habitat.knowledge.tables import Knowledge, load_knowledge

__all__ = [
    "Knowledge",
    "NameMatch",
    "load_knowledge",
    "resolve_butterflies",
    "resolve_butterfly",
    "resolve_plants",
]

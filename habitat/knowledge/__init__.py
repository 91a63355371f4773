"""What is known: plants, butterflies, who eats what, the year."""

from habitat.knowledge.broods import HostStand
from habitat.knowledge.life_cycle import close_life_cycle, year_gaps
from habitat.knowledge.names import resolve_butterflies, resolve_plants
from habitat.knowledge.tables import Knowledge, load_knowledge
from habitat.knowledge.year import stages

__all__ = [
    "HostStand",
    "Knowledge",
    "close_life_cycle",
    "load_knowledge",
    "resolve_butterflies",
    "resolve_plants",
    "stages",
    "year_gaps",
]

"""What is known: plants, butterflies, who eats what, the year."""

from habitat.knowledge.broods import BroodNeed, HostStand, brood_need, feed
from habitat.knowledge.care import Caution, YardFlags, cautions, harmful_plants, lookalikes_of, no_host_reason
from habitat.knowledge.life_cycle import LifeCycle, close_life_cycle, life_cycle_by_year, year_gaps
from habitat.knowledge.looks import WINTER_KEEP, stage_looks, winter_words
from habitat.knowledge.names import NameMatch, resolve_butterflies, resolve_butterfly, resolve_plants
from habitat.knowledge.place import outside_region
from habitat.knowledge.region import Region, read_region, shipped_regions
from habitat.knowledge.sources import ValueSource, value_source
from habitat.knowledge.tables import Knowledge, load_knowledge
from habitat.knowledge.wishes import Wishes, choose_wishes

__all__ = [
    "WINTER_KEEP",
    "BroodNeed",
    "Caution",
    "HostStand",
    "Knowledge",
    "LifeCycle",
    "NameMatch",
    "Region",
    "ValueSource",
    "Wishes",
    "YardFlags",
    "brood_need",
    "cautions",
    "choose_wishes",
    "close_life_cycle",
    "feed",
    "harmful_plants",
    "life_cycle_by_year",
    "load_knowledge",
    "lookalikes_of",
    "no_host_reason",
    "outside_region",
    "read_region",
    "resolve_butterflies",
    "resolve_butterfly",
    "resolve_plants",
    "shipped_regions",
    "stage_looks",
    "value_source",
    "winter_words",
    "year_gaps",
]

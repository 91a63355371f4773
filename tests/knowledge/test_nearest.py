"""The nearest names."""

from habitat.knowledge import resolve_plants
from habitat.knowledge.nearest import GARDEN, TREES


def test_no_garden_plant_suggests_one_of_another_genus(knowledge):
    kinds = TREES | GARDEN
    for match in resolve_plants(list(kinds), knowledge):
        genera = {*kinds[match.given].replace(",", "").split(), *match.genera}
        assert all(name.split()[0] in genera for name in match.suggestions), match
        assert match.accepted is None or match.accepted.split()[0] in genera, match

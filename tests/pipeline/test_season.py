"""The season of a study: its own, else that of the region whose tables count (region.toml)."""

import tomllib

import pytest

from habitat.knowledge import load_knowledge
from habitat.knowledge.region import SHIPPED, shipped_regions
from habitat.pipeline.season import in_season
from habitat.settings.knowledge import KnowledgeSettings
from habitat.study.model import Study

YARDS = {"layers": {"yards": {"path": "yards.gpkg"}}}


@pytest.mark.parametrize("region", sorted(shipped_regions()))
def test_a_study_without_a_season_has_that_of_its_region(region):
    knowledge = load_knowledge(KnowledgeSettings(region=region))
    about = tomllib.loads((shipped_regions()[region].folder / "region.toml").read_text(encoding="utf-8"))
    study, told = in_season(Study(**YARDS).changed(planting={"budget": 9.0}), knowledge)
    assert list(study.study.season) == about["season_months"]
    assert study.planting.budget == 9.0
    assert "No season in the study" in told[0]
    stated = Study(study={"season": (5, 9)}, **YARDS).changed(planting={"budget": 9.0})
    assert in_season(stated, knowledge) == (stated, ())
    assert stated.study.season == (5, 9)


def test_regions_differ_so_that_the_default_matters():
    seasons = [
        tomllib.loads(path.read_text(encoding="utf-8"))["season_months"]
        for path in sorted(SHIPPED.glob("regions/*/region.toml"))
    ]
    assert len({tuple(months) for months in seasons}) == len(seasons) >= 2

"""Eight yards of the demo town, planned once for all tests."""

from pathlib import Path

import pytest

from habitat.knowledge import load_knowledge
from habitat.pipeline.assemble import assemble
from habitat.pipeline.corridor import corridor_task
from habitat.pipeline.follow import carried_on
from habitat.pipeline.planting import Groundwork, existing_of, plan_round
from habitat.pipeline.reading import read_layers
from habitat.pipeline.survey import survey
from habitat.study.reading import read_study
from habitat.suitability import compile_needs

DEMO = Path(__file__).parents[2] / "sample_geodata" / "study.toml"


@pytest.fixture(scope="session")
def eight_yards():
    study = read_study(DEMO)
    layers = read_layers(study)
    knowledge = load_knowledge(study.knowledge, study.folder)
    site = survey(study, layers)
    needs = compile_needs(knowledge, study.suitability, site.assessed)
    existing, _ = existing_of(layers, knowledge)
    able = layers.yards.loc[layers.yards["role"].isin(["member", "candidate"]), "yard_id"]
    wishes = tuple(study.planting.wishes)
    return Groundwork(study, layers, site, knowledge, needs, existing, wishes, tuple(able[::15]))


@pytest.fixture(scope="session")
def planting(eight_yards):
    return plan_round(eight_yards)


@pytest.fixture(scope="session")
def eight_plan(eight_yards, planting):
    """Return the whole plan, its corridor for two butterflies."""
    one = eight_yards
    task = corridor_task(one.study, one.layers, one.knowledge, planting, one.wishes[:2])
    return assemble(one, planting, task.score(), [], carried_on(one, planting.order, ()), (), {})

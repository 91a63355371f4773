"""The shipped tables."""

import pytest

from habitat.knowledge import load_knowledge


@pytest.fixture(scope="module")
def knowledge():
    return load_knowledge()


@pytest.fixture(scope="module")
def shipped(knowledge):
    return knowledge

"""One profile for all property tests (equal examples on every run, no clock), and a cache of their own."""

import pytest
from hypothesis import settings

from habitat.pipeline import checkpoints

pytest_plugins = ["tests.support.eight_yards", "tests.support.first_run", "tests.support.street"]

settings.register_profile("house", derandomize=True, deadline=None)
settings.load_profile("house")


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory):
    """Keep finished stages of runs in a folder of the tests."""
    cache = tmp_path_factory.mktemp("cache") / "habitat"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(checkpoints, "cache_folder", lambda: cache)
        yield cache

"""A tiny invented street, planned once a process, and what of its results a run that follows reads."""

import random
from types import SimpleNamespace

import pytest

import habitat
from tests.support.tiny_town import write_for_next, write_town

ROLES = {"A1": "member", "A2": "member", "A3": "candidate", "A4": "other", "A5": "member", "A6 <b>x": "other"}


@pytest.fixture(scope="session")
def street(tmp_path_factory):
    """Return the study's path, the plan and its results; copy before you edit."""
    home = tmp_path_factory.mktemp("street")
    path = write_town(home / "town", random.Random(5), ROLES)
    plan = habitat.run(habitat.read_study(path))
    return SimpleNamespace(path=path, plan=plan, folder=write_for_next(plan, home / "results"))

"""Results of a run over real parcels, of which the first joins later: planned and written once a process."""

from types import SimpleNamespace

import pytest

import habitat
from tests.support.prague import write_study


@pytest.fixture(scope="session")
def first_run(tmp_path_factory):
    """Return the study's path, its people, the plan of four yards and its results; copy before you edit."""
    home = tmp_path_factory.mktemp("first_run")
    path = write_study(home, planned=5)
    people = home / "participants.csv"
    lines = people.read_text(encoding="utf-8").splitlines()
    late = lines.pop(1)
    people.write_text("\n".join(lines) + "\n", encoding="utf-8")
    plan = habitat.run(habitat.read_study(path))
    folder = habitat.write_plan(plan, home / "first")
    ids = [line.split(",")[0] for line in lines[1:]]
    return SimpleNamespace(home=home, path=path, plan=plan, folder=folder, ids=ids, lines=lines, late=late)

"""Results of a tiny street, opened once for tests that leave the disk alone."""

import shutil

import pytest

from habitat.what_if.base import read_base
from habitat.what_if.session import Session
from habitat.what_if.steps import first_state


@pytest.fixture(scope="session")
def base(street):
    return read_base(street.folder, street.path)


@pytest.fixture(scope="session")
def first(base):
    return first_state(base)


@pytest.fixture
def results(street, tmp_path):
    return shutil.copytree(street.folder, tmp_path / "results")


@pytest.fixture
def session(street, results):
    return Session(results, street.path)

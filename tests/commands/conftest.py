"""A study of real parcels for the tests of commands."""

import pytest

from tests.support.prague import write_study


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return str(write_study(tmp_path_factory.mktemp("cli"), planned=6))

"""Work over processes: answers in order, any number of processes, nothing left running."""

from __future__ import annotations

import operator
import os
import time

import pytest

from habitat.errors import WorkerError
from habitat.executor import Crew, hired


@pytest.fixture(scope="module", autouse=True)
def _two_processes():
    with hired(2):
        yield


@pytest.mark.parametrize("workers", [1, 2])
def test_jobs_handed_in_at_once_are_answered_in_order(workers):
    with Crew(100, workers) as crew:
        begun = crew.begin(operator.add, range(20))
        assert list(crew.map(operator.mul, [2, 3])) == [200, 300]  # beside it, the crew goes on
        assert list(begun) == list(range(100, 120))
        with pytest.raises(TypeError, match="unsupported operand"):
            list(crew.begin(operator.add, [None]))


def test_what_is_not_done_when_the_block_ends_is_left_undone(tmp_path):
    with Crew(tmp_path, 2) as crew:
        crew.begin(_mark_slowly, range(400))
    made = len(list(tmp_path.iterdir()))
    assert made < 400
    time.sleep(0.1)
    assert len(list(tmp_path.iterdir())) == made


def _mark_slowly(number, folder):
    time.sleep(0.01)
    (folder / str(number)).touch()


def test_a_process_that_dies_is_told_in_plain_words():
    with hired(3), Crew(None, 3) as crew, pytest.raises(WorkerError, match="--workers 1"):
        list(crew.map(_die, [1, 2, 3, 4]))


def _die(number, common):
    os._exit(number)

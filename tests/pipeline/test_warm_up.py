"""What is made ready while files are read: it compiles what planning a yard and weighing a corridor call."""

import pytest
from numba.core import event

from habitat.executor import Executor
from habitat.pipeline.warm_up import JOBS
from habitat.planting.yard_jobs import plan_for
from tests.support.yards import SHARED, rich_yard


@pytest.mark.parametrize("number", range(len(JOBS)))
def test_a_second_call_compiles_nothing(number):
    JOBS[number][1]()
    with event.install_recorder("numba:compile") as recorder:
        JOBS[number][1]()
    assert not recorder.buffer


def test_a_yard_is_planned_with_what_was_made_ready():
    JOBS[0][1]()
    with event.install_recorder("numba:compile") as recorder:
        plan_for(rich_yard(3), SHARED)
    assert not recorder.buffer


def _touch():
    raise RuntimeError("nobody hears of this")


def test_processes_do_it_first_and_then_what_is_asked():
    with Executor(1) as executor:
        executor.start([_touch])
        assert list(executor.map(_plus, [1, 2], 10)) == [11, 12]


def _plus(job, common):
    return job + common

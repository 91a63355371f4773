"""Work over processes: answers in order, any number of processes, nothing left running."""

from __future__ import annotations

import operator
import os
import subprocess
import sys
import time

import pytest

from habitat.errors import WorkerError
from habitat.executor import Executor


@pytest.fixture(scope="module")
def two_processes():
    with Executor(2) as executor:
        yield executor


def test_answers_come_in_the_order_of_the_jobs(two_processes):
    with Executor() as alone:
        assert list(alone.map(operator.add, range(9), 10)) == list(range(10, 19))
    assert list(two_processes.map(operator.add, range(9), 10)) == list(range(10, 19))
    assert list(two_processes.map(operator.mul, [2, 3], 100)) == [200, 300]


@pytest.mark.parametrize("processes", [0, 1, 2])
def test_jobs_handed_in_at_once_are_answered_in_order(processes):
    with Executor(processes) as executor:
        with executor.beside(operator.add, range(20), 100) as answers:
            assert list(executor.map(operator.mul, [2, 3], 100)) == [200, 300]  # goes on beside it
            assert list(answers) == list(range(100, 120))
        with (
            executor.beside(operator.add, [None], 100) as answers,
            pytest.raises(TypeError, match="unsupported operand"),
        ):
            list(answers)


def test_what_is_not_done_when_the_block_ends_is_left_undone(two_processes, tmp_path):
    with two_processes.beside(_mark_slowly, range(400), tmp_path):
        pass
    made = len(list(tmp_path.iterdir()))
    assert made < 400
    time.sleep(0.1)
    assert len(list(tmp_path.iterdir())) == made


def _mark_slowly(number, folder):
    time.sleep(0.01)
    (folder / str(number)).touch()


def test_a_process_that_dies_is_told_in_plain_words():
    with Executor(3) as executor, pytest.raises(WorkerError, match="--workers 1"):
        list(executor.map(_die, [1, 2, 3, 4], None))


def _die(number, common):
    os._exit(number)


def _rest(job, common):
    time.sleep(common)
    return job


def test_a_pool_that_is_stopped_at_work_tells_no_traceback(caplog):
    """Jobs that nobody has begun are cancelled, then processes are ended: which logs, if the pool is let."""

    def jobs():
        yield from range(7)
        time.sleep(0.5)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt), Executor(2) as executor:
        list(executor.map(_rest, jobs(), 5.0))
    assert [record.getMessage() for record in caplog.records] == []


def test_a_script_needs_no_guard_and_leaves_no_process_when_it_is_killed(tmp_path):
    script = tmp_path / "script.py"
    script.write_text(
        "import os, time\n"
        "from habitat.executor import Executor\n"
        "def pid(job, common):\n"
        "    return os.getpid()\n"
        "with Executor(2) as executor:\n"
        "    print(*set(executor.map(pid, range(8), None)), flush=True)\n"
        "    time.sleep(60)\n"
    )
    started = subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True)
    pids = [int(pid) for pid in started.stdout.readline().split()]
    assert pids
    assert os.getpid() not in pids
    started.kill()
    started.wait()
    until = time.monotonic() + 30
    while any(_runs(pid) for pid in pids) and time.monotonic() < until:
        time.sleep(0.1)
    assert not any(_runs(pid) for pid in pids)


def _runs(pid):
    try:
        with open(f"/proc/{pid}/stat") as file:  # noqa: PTH123
            return file.read().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False

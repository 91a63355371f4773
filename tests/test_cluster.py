"""A dask cluster gives the answers that processes of our own give, and outlives a lost worker."""

import operator
import os
import signal
import time
from dataclasses import replace

import numpy as np
import pytest

from habitat.cluster import LOCAL, ClusterExecutor, executor_of
from habitat.errors import ParameterError, WorkerError
from habitat.executor import Executor
from habitat.pipeline.planting import plan_round

pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def cluster():
    with ClusterExecutor(LOCAL, 2) as executor:
        yield executor


def waves(seed, common):
    """Return numbers whose bytes tell whether anything was summed otherwise."""
    values = np.random.default_rng(seed).normal(size=200)
    return (values @ common).tobytes()


def test_bytes_are_equal_in_place_in_two_processes_and_on_a_cluster(cluster):
    common = np.random.default_rng(1).normal(size=(200, 3))
    with Executor() as alone, Executor(2) as two:
        bytes_ = [list(one.map(waves, range(40), common)) for one in (alone, two, cluster)]
    assert bytes_[0] == bytes_[1] == bytes_[2]
    assert len(set(bytes_[0])) == 40


def test_what_jobs_share_is_that_of_their_call(cluster):
    assert list(cluster.map(operator.add, range(3), 10)) == [10, 11, 12]
    assert list(cluster.map(operator.mul, range(3), 10)) == [0, 10, 20]


def test_an_error_of_a_job_is_the_jobs_own(cluster):
    with pytest.raises(TypeError, match="unsupported operand"):
        list(cluster.map(operator.add, [1, None], 1))


def kill_once(number, marker):
    """End the whole process at the first job that comes to number 3."""
    if number == 3 and not marker.exists():
        marker.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.01)
    return number * number


def test_a_worker_that_is_killed_is_replaced_and_its_jobs_are_done_again(cluster, tmp_path):
    marker = tmp_path / "killed"
    assert list(cluster.map(kill_once, range(12), marker)) == [n * n for n in range(12)]
    assert marker.exists()


def test_a_scheduler_that_is_gone_is_told_in_plain_words():
    with ClusterExecutor(LOCAL, 1) as executor:
        executor.start()
        answers = executor.map(slowly, range(100), 0.2)
        assert next(answers) == 0
        executor._cluster.close()
        with pytest.raises(WorkerError, match="--resume"):
            list(answers)


def slowly(number, seconds):
    time.sleep(seconds)
    return number


def test_where_nobody_answers_is_told(monkeypatch):
    monkeypatch.setattr("habitat.cluster.CONNECT_S", 0.5)
    with executor_of(2, "tcp://127.0.0.1:9") as nobody, pytest.raises(ParameterError, match="scheduler"):
        list(nobody.map(operator.add, [1], 1))


def test_without_a_cluster_processes_are_our_own():
    with executor_of(1) as alone, executor_of(3) as three:
        assert (type(alone), alone.processes) == (Executor, 0)
        assert (type(three), three.processes) == (Executor, 3)


def test_plans_of_yards_are_equal_on_a_cluster(cluster, eight_yards):
    two = replace(eight_yards, yard_ids=eight_yards.yard_ids[:2])
    plans = [plan_round(two, executor=one) for one in (Executor(), cluster)]
    for name in ("beds", "plantings", "plant_points"):
        one, other = (getattr(plan, name) for plan in plans)
        assert len(one) > 0
        assert one.geometry.to_wkb().tolist() == other.geometry.to_wkb().tolist()
        assert one.drop(columns="geometry").equals(other.drop(columns="geometry"))

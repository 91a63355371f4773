"""Work spread over a dask cluster: on this machine, or on one that somebody runs.

Answers come in the order of the jobs, as ``Executor`` gives them, so that plans are equal to the byte.
Workers hold nothing but what the scheduler ships: what all jobs share is a task of its own, which is done
again where a worker is lost, as are the jobs that it had.
"""

from __future__ import annotations

import importlib
import logging
import pickle
import warnings
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from importlib.metadata import version
from types import TracebackType
from typing import Any

import numba

from habitat.errors import ParameterError, WorkerError
from habitat.executor import AHEAD, Common, Executor, In, Out

LOCAL = "local"
"""Word for a cluster that is started on this machine and ends with the run."""

CONNECT_S = 20.0
"""Seconds to wait for a scheduler to answer; judgement."""


def executor_of(workers: int, cluster: str = "") -> Executor:
    """Return who does the work: processes of this machine, or a dask cluster.

    Parameters
    ----------
    workers
        Processes on this machine; one does all work in place. Of another cluster's it says nothing.
    cluster
        "" for processes of our own, "local" for a cluster on this machine, else the address of a scheduler,
        such as ``tcp://10.0.0.5:8786``.
    """
    if not cluster:
        return Executor(workers if workers > 1 else 0)
    return ClusterExecutor(cluster, workers)


class ClusterExecutor(Executor):
    """Calls functions on jobs on a dask cluster.

    Parameters
    ----------
    address
        "local", or where the scheduler answers.
    workers
        Processes of a local cluster.

    Raises
    ------
    ParameterError
        If the package is missing, nobody answers there, or workers run another version of this program.
    """

    def __init__(self, address: str, workers: int = 1) -> None:
        super().__init__(max(workers, 1))
        self._address = address
        self._dask: Any = _package(address)
        self._cluster: Any = None
        self._client: Any = None
        self._common: tuple[Any, Any] | None = None

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._common = None
        for one in (self._client, self._cluster):
            if one is not None:
                with suppress(Exception):
                    one.close()
        self._client = self._cluster = None

    def start(self, first: Iterable[Callable[[], None]] = ()) -> None:
        """Start a local cluster, or connect to the one that is there."""
        del first  # its workers are others' too: they do nothing before jobs
        if self._client is not None:
            return
        if self._address == LOCAL:
            self._cluster = self._dask.LocalCluster(
                n_workers=self.processes,
                threads_per_worker=1,
                memory_limit=None,
                dashboard_address="127.0.0.1:0",
                silence_logs=logging.CRITICAL,
            )
        try:
            self._client = self._dask.Client(
                self._cluster or self._address, timeout=CONNECT_S, set_as_default=False
            )
        except (OSError, ValueError) as error:
            raise ParameterError(
                "--cluster", self._address, "local, or the address of a dask scheduler that answers"
            ) from error
        if self._address != LOCAL:
            self._refuse_other_versions()

    def _refuse_other_versions(self) -> None:
        found = self._client.run(_our_version)
        if not found:
            raise ParameterError("--cluster", self._address, "a dask scheduler with at least one worker")
        other = sorted({f"{where} has {told}" for where, told in found.items() if told != _our_version()})
        if other:
            raise ParameterError(
                "--cluster", self._address, f"workers with habitat {_our_version()} ({', '.join(other)})"
            )
        self.processes = sum(self._client.nthreads().values())

    def map(self, function: Callable[[In, Common], Out], jobs: Iterable[In], common: Common) -> Iterator[Out]:
        """Yield function(job, common) for each job, in order; as ``Executor.map``."""
        self.start()
        under_way: deque[Any] = deque()
        with _told(self._address):
            shared = self._share(common)
        try:
            for job in jobs:
                with _told(self._address):
                    under_way.append(self._client.submit(_call, function, job, shared, pure=False))
                if len(under_way) >= AHEAD * self.processes:
                    yield self._answer(under_way.popleft())
            while under_way:
                yield self._answer(under_way.popleft())
        finally:
            for left in under_way:
                with suppress(Exception):
                    left.cancel()

    def _answer(self, future: Any) -> Any:
        with _told(self._address):
            return future.result()

    def _share(self, common: Any) -> Any:
        """Return what all jobs share as a task, which the scheduler has done again where it is lost."""
        if self._common is None or self._common[0] is not common:
            packed = pickle.dumps(common, protocol=pickle.HIGHEST_PROTOCOL)
            with _quiet():
                self._common = (common, self._client.submit(pickle.loads, packed, pure=False))
        return self._common[1]


@contextmanager
def _quiet() -> Iterator[None]:
    """Let dask send what is large through its scheduler without advice to do otherwise."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Sending large graph", UserWarning)
        yield


@contextmanager
def _told(address: str) -> Iterator[None]:
    """Say in plain words that a cluster is gone, and how to go on."""
    dask = _package(address)
    closed = getattr(dask.client, "ClosedClientError", dask.CancelledError)  # younger than what we ask for
    lost = (dask.CancelledError, dask.comm.CommClosedError, closed)
    try:
        yield
    except dask.scheduler.KilledWorker as error:
        raise WorkerError(
            "a job ended each worker that took it; nothing was written",
            f"--cluster {address}",
            "Most often memory ran out: give the workers more of it, or fewer threads each",
        ) from error
    except lost as error:
        raise WorkerError(
            f"the cluster no longer answers ({type(error).__name__}); nothing was written",
            f"--cluster {address}",
            "Start it again, and go on with --resume: finished stages are kept",
        ) from error


def _package(address: str) -> Any:
    try:
        return importlib.import_module("distributed")  # only those who have a cluster need it
    except ImportError as error:
        raise ParameterError(
            "--cluster", address, "used where dask is installed: pip install 'habitat[cluster]'"
        ) from error


def _our_version() -> str:
    return version("habitat")


def _call(function: Callable[[Any, Any], Out], job: Any, common: Any) -> Out:
    numba.set_num_threads(1)
    return function(job, common)

"""Work spread over processes, with answers in the order of the jobs whatever their number.

Processes come from loky, a well-kept pool: lost ones are told, idle ones end by themselves, and a script
needs no guard around its calls. What all jobs share is written once and read by each process when it first
needs it, so that no process holds a state that another has to wait for.
"""

from __future__ import annotations

import contextlib
import ctypes
import functools
import logging
import os
import pickle
import signal
import tempfile
import threading
import time
import warnings
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Future
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

import numba
from loky import ProcessPoolExecutor
from loky.process_executor import ShutdownExecutorError

from habitat.errors import WorkerError

In = TypeVar("In")
Out = TypeVar("Out")
Common = TypeVar("Common")

AHEAD = 4
"""Jobs per process that are cut out before their turn, so that nobody waits and memory stays flat."""

IDLE_S = 60.0
"""Seconds after which a process without work ends by itself; judgement."""


class Executor:
    """Calls functions on jobs: in place, or in processes of their own.

    Use it in a ``with`` block; its processes end with the block, also when an error or Ctrl-C ends it.

    Parameters
    ----------
    processes
        How many work beside this one; 0 does all work in place. They start with the first call that needs
        them, or with ``start``.

    Examples
    --------
    >>> with Executor() as executor:
    ...     list(executor.map(lambda job, common: job + common, [1, 2], 10))
    [11, 12]
    """

    def __init__(self, processes: int = 0) -> None:
        self.processes = processes
        self._pool: Any = None
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._shipped: tuple[Any, str] | None = None
        self._written = 0

    def __enter__(self) -> Executor:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is not None:
            with _nothing_logged() if error is not None else contextlib.nullcontext():
                self._pool.shutdown(kill_workers=error is not None)
        if self._folder is not None:
            self._folder.cleanup()
        self._pool = self._folder = self._shipped = None

    def start(self, first: Iterable[Callable[[], None]] = ()) -> None:
        """Start the processes without waiting for them: their imports take seconds.

        Parameters
        ----------
        first
            What they do while nobody asks them for anything else; how it ends is told to nobody.
        """
        if self.processes and self._pool is None:
            # a process that grew is replaced between two jobs, which changes no answer and nobody must mend
            warnings.filterwarnings("ignore", "A worker was restarted while some jobs", UserWarning)
            self._pool = ProcessPoolExecutor(
                self.processes, timeout=IDLE_S, initializer=_begin, initargs=(os.getpid(),)
            )
            for work in (*(_nothing for _ in range(self.processes)), *first):
                self._pool.submit(work)

    def map(self, function: Callable[[In, Common], Out], jobs: Iterable[In], common: Common) -> Iterator[Out]:
        """Yield function(job, common) for each job, in order, with few jobs cut out before their turn.

        Parameters
        ----------
        function
            Of some module, if there are processes.
        jobs
            Taken one by one as they are needed.
        common
            What every job needs; must be picklable, and is sent to each process once.

        Raises
        ------
        WorkerError
            If a process ends before its work is done.
        """
        if not self.processes:
            yield from (function(job, common) for job in jobs)
            return
        path = self._ship(common)
        under_way: deque[Future[Out]] = deque()
        try:
            for job in jobs:
                under_way.append(self._submit(function, job, path))
                if len(under_way) >= AHEAD * self.processes:
                    yield _answer(under_way.popleft())
            while under_way:
                yield _answer(under_way.popleft())
        finally:
            for left in under_way:
                left.cancel()

    @contextmanager
    def beside(
        self, function: Callable[[In, Common], Out], jobs: Iterable[In], common: Common
    ) -> Iterator[Iterator[Out]]:
        """Hand in all jobs at once, so that others do them while this process does something else.

        Yields the answers in order. This process is one of the workers: whoever asks for an answer that is
        not there yet does the last of the jobs that nobody has begun. What is not done when the block ends
        is left undone.
        """
        todo = list(jobs)
        if not self.processes:
            yield (function(job, common) for job in todo)
            return
        path = self._ship(common)
        begun = [self._submit(function, job, path) for job in todo]
        try:
            yield self._answers(function, todo, begun, common)
        finally:
            for future in begun:
                future.cancel()
            for future in begun:
                if not future.cancelled():
                    with contextlib.suppress(Exception, CancelledError):
                        future.result()

    def _answers(
        self, function: Callable[[In, Common], Out], todo: list[In], begun: list[Future[Out]], common: Common
    ) -> Iterator[Out]:
        mine: dict[int, Out] = {}
        last = len(todo)
        for k in range(len(todo)):
            while k < last and not begun[k].done():
                last -= 1
                if begun[last].cancel():
                    mine[last] = function(todo[last], common)
            yield mine.pop(k) if k in mine else _answer(begun[k])

    def _submit(self, function: Callable[..., Out], job: Any, path: str) -> Future[Out]:
        self.start()
        with _lost_told():
            future: Future[Out] = self._pool.submit(_work, function, job, path)
            return future

    def _ship(self, common: Any) -> str:
        """Write what jobs share into a private file, unless it is there already, and return its path."""
        if self._shipped is not None and self._shipped[0] is common:
            return self._shipped[1]
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="habitat-")
        self._written += 1
        path = Path(self._folder.name) / f"{self._written}.pickle"
        with path.open("wb") as file:
            pickle.dump(common, file, protocol=pickle.HIGHEST_PROTOCOL)
        self._shipped = (common, str(path))
        return str(path)


@contextmanager
def _nothing_logged() -> Iterator[None]:
    """Keep the pool from logging that cancelled jobs could not be told of its end; it ends them anyway."""
    logger = logging.getLogger("concurrent.futures")
    logger.disabled = True
    try:
        yield
    finally:
        logger.disabled = False


@contextmanager
def _lost_told() -> Iterator[None]:
    """Say in plain words that a process is gone, and what to do."""
    try:
        yield
    except (BrokenExecutor, ShutdownExecutorError) as error:
        raise WorkerError(
            "a process that helped with the work ended before it was done; nothing was written",
            "",
            "Most often memory ran out: give --workers 1 (workers=1 in a script), or close other programs",
        ) from error


def _answer(future: Future[Out]) -> Out:
    with _lost_told():
        return future.result()


def _begin(parent: int) -> None:
    """Make a process ready: one thread for compiled loops, no say in Ctrl-C, an end when its parent ends."""
    numba.set_num_threads(1)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(1.0)
    os._exit(1)


def _nothing() -> None:
    """Take no time: the job that starts a process."""


@functools.lru_cache(maxsize=1)
def _read(path: str) -> Any:
    give_back_memory()
    with Path(path).open("rb") as file:
        return pickle.load(file)


def _work(function: Callable[[Any, Any], Out], job: Any, path: str) -> Out:
    return function(job, _read(path))


def give_back_memory() -> None:
    """Give memory that is no longer used back to the system, where its C library can (glibc)."""
    try:
        ctypes.CDLL(None).malloc_trim(0)
    except (AttributeError, OSError, TypeError):
        return

"""Work spread over processes, with answers in the order of the jobs whatever their number."""

from __future__ import annotations

import ctypes
import itertools
import pickle
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from multiprocessing import get_context
from types import TracebackType
from typing import Any, Generic, TypeVar

import numba

from habitat.errors import WorkerError

In = TypeVar("In")
Out = TypeVar("Out")
Common = TypeVar("Common")

AHEAD = 4
"""Jobs per process that are cut out before their turn, so that nobody waits and memory stays flat."""

_NUMBERS = itertools.count(1)
_HIRED: list[_Hands] = []
"""The processes that crews share while ``hired`` lasts; in the main process only."""


class Crew(Generic[Common]):
    """Processes that all hold the same ``common`` value; with one worker the work is done in place.

    Parameters
    ----------
    common
        What every job needs; can be sent to another process.
    workers
        How many work at a time, all of them processes of their own if there are several.
    helping
        Whether this process is one of them: it has work of its own, then takes jobs that nobody has begun
        (``begin``). That saves the memory of a process.

    Examples
    --------
    >>> with Crew(10, workers=1) as crew:
    ...     list(crew.map(lambda job, common: job + common, [1, 2]))
    [11, 12]
    """

    def __init__(self, common: Common, workers: int, *, helping: bool = False) -> None:
        self.common = common
        self.processes = workers - helping if workers > 1 else 0
        self._number = next(_NUMBERS)
        self._hands: _Hands | None = None
        self._begun: list[Future[Any]] = []

    def __enter__(self) -> Crew[Common]:
        if self.processes:
            shared = _HIRED and _HIRED[-1].workers == self.processes
            self._hands = _HIRED[-1] if shared else _Hands(self.processes)
            self._hands.hand_out(self._number, self.common)
        return self

    def begin(self, function: Callable[[In, Common], Out], jobs: Iterable[In]) -> Iterator[Out]:
        """Hand in all jobs at once, so that they are done while the caller does something else.

        Answers come in order, when they are asked for. Whoever asks for one that is not there yet does the
        last of the jobs that nobody has begun meanwhile. What is not done when the crew's block ends is left
        undone.
        """
        todo = list(jobs)
        if self._hands is not None:
            self._hands.hand_out(self._number, self.common)
            self._begun = self._hands.give(self._number, function, todo)
        return self._answers(function, todo, self._begun)

    def _answers(
        self, function: Callable[[In, Common], Out], todo: list[In], begun: list[Future[Out]]
    ) -> Iterator[Out]:
        mine: dict[int, Out] = {}
        last = len(todo)
        for k, job in enumerate(todo):
            if not begun:
                yield function(job, self.common)
                continue
            while k < last and not begun[k].done():
                last -= 1
                if begun[last].cancel():
                    mine[last] = function(todo[last], self.common)
            with _lost_told():
                answer = mine.pop(k) if k in mine else begun[k].result()
            yield answer

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for begun in self._begun:
            begun.cancel()
        wait(self._begun)
        if self._hands is not None and self._hands not in _HIRED:
            self._hands.close()
        self._hands = None

    def map(self, function: Callable[[In, Common], Out], jobs: Iterable[In]) -> Iterator[Out]:
        """Yield function(job, common) for each job, in order; with workers, a function of some module.

        Only one crew's ``map`` may be under way at a time on shared processes.
        """
        if self._hands is None:
            yield from (function(job, self.common) for job in jobs)
        else:
            self._hands.hand_out(self._number, self.common)
            yield from self._hands.work(self._number, function, jobs)


@contextmanager
def _lost_told() -> Iterator[None]:
    """Say in plain words that a process is gone, and what to do."""
    try:
        yield
    except BrokenExecutor as error:
        raise WorkerError(
            "a process that helped with the work ended before it was done; nothing was written",
            "",
            "Most often memory ran out: give --workers 1 (workers=1 in a script), or close other programs. "
            "A script that asks for workers must also keep its calls under: if __name__ == '__main__'",
        ) from error


@contextmanager
def hired(workers: int) -> Iterator[None]:
    """Let every crew of as many workers inside the block share its processes, one crew after another.

    They start with the first crew or with ``wake_hired``. Inside another such block, or with one worker,
    nothing is shared.
    """
    if workers < 2 or _HIRED:
        yield
        return
    _HIRED.append(_Hands(workers))
    try:
        yield
    finally:
        _HIRED.pop().close()


def wake_hired() -> None:
    """Start the processes of ``hired``, if there are any.

    That takes seconds, most of them for imports, which go on beside what the main process does next.
    """
    for hands in _HIRED:
        hands.start()


def give_back_memory() -> None:
    """Give memory that is no longer used back to the system, where its C library can (glibc)."""
    try:
        ctypes.CDLL(None).malloc_trim(0)
    except (AttributeError, OSError, TypeError):
        return


class _Hands:
    """Worker processes; each holds the common value of the crew that works with them."""

    def __init__(self, workers: int) -> None:
        context = get_context("spawn")
        self.workers = workers
        self._pool = ProcessPoolExecutor(workers, context, _start, (context.Barrier(workers),))
        self._holds = 0
        self._started: list[Future[None]] = []

    def start(self) -> None:
        """Start the processes without waiting for them."""
        self._started = self._started or self._give(0, None)

    def _give(self, number: int, common: Any) -> list[Future[None]]:
        """Let each process take the value once, before any job handed in later: they are taken in turn."""
        data = pickle.dumps(common, protocol=pickle.HIGHEST_PROTOCOL)
        with _lost_told():
            return [self._pool.submit(_take, number, data) for _ in range(self.workers)]

    def hand_out(self, number: int, common: Any) -> None:
        """Give every process a crew's common value, unless it holds that already."""
        if self._holds == number:
            return
        self._started += self._give(number, common)
        self._holds = number

    def give(self, number: int, function: Callable[..., Out], jobs: Iterable[Any]) -> list[Future[Out]]:
        """Hand in jobs without waiting."""
        with _lost_told():
            return [self._pool.submit(_work, number, function, job) for job in jobs]

    def work(self, number: int, function: Callable[..., Out], jobs: Iterable[Any]) -> Iterator[Out]:
        """Yield the answers to jobs in their order, with few jobs under way at a time."""
        under_way: deque[Future[Out]] = deque()
        try:
            for job in jobs:
                under_way += self.give(number, function, [job])
                if len(under_way) >= AHEAD * self.workers:
                    yield _answer(under_way)
            while under_way:
                yield _answer(under_way)
        finally:
            for left in under_way:
                left.cancel()

    def close(self) -> None:
        """End the processes once what they do now is done."""
        wait(self._started)
        self._pool.shutdown(cancel_futures=True)


def _answer(under_way: deque[Future[Out]]) -> Out:
    with _lost_told():
        return under_way.popleft().result()


_AT_HAND: dict[str, Any] = {}
"""What a worker process was given: the barrier at its start, then a crew's number and common value."""


def _start(barrier: Any) -> None:
    numba.set_num_threads(1)
    _AT_HAND.update(barrier=barrier, number=0, common=None)


def _take(number: int, data: bytes) -> None:
    _AT_HAND.update(number=number, common=pickle.loads(data))
    give_back_memory()
    _AT_HAND["barrier"].wait()  # so that each process takes exactly one


def _work(number: int, function: Callable[[Any, Any], Out], job: Any) -> Out:
    if _AT_HAND["number"] != number:
        raise RuntimeError("two crews work with the same processes at a time")
    return function(job, _AT_HAND["common"])

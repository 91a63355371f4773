"""Work spread over processes, with answers in the order of the jobs whatever their number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from types import TracebackType
from typing import Any, Generic, TypeVar

import numba

In = TypeVar("In")
Out = TypeVar("Out")
Common = TypeVar("Common")

_AT_HAND: list[Any] = []
"""What a worker process was given at its start; empty in the main process."""


class Crew(Generic[Common]):
    """Processes that all hold the same ``common`` value; with one worker the work is done in place.

    Examples
    --------
    >>> with Crew(10, workers=1) as crew:
    ...     list(crew.map(lambda job, common: job + common, [1, 2]))
    [11, 12]
    """

    def __init__(self, common: Common, workers: int) -> None:
        self.common = common
        self._pool = (
            ProcessPoolExecutor(workers, get_context("spawn"), _take, (common,)) if workers > 1 else None
        )

    def __enter__(self) -> Crew[Common]:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def map(self, function: Callable[[In, Common], Out], jobs: Iterable[In]) -> Iterator[Out]:
        """Yield function(job, common) for each job, in order; with workers, a function of some module."""
        if self._pool is None:
            yield from (function(job, self.common) for job in jobs)
        else:
            yield from self._pool.map(_work, ((function, job) for job in jobs), chunksize=4)


def _take(common: Any) -> None:
    numba.set_num_threads(1)
    _AT_HAND[:] = [common]


def _work(task: tuple[Callable[[Any, Any], Any], Any]) -> Any:
    function, job = task
    return function(job, _AT_HAND[0])

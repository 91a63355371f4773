"""``habitat warm-up``: compile the loops that runs need, so that the first run need not."""

from __future__ import annotations

import time
from collections.abc import Callable

from habitat.commands.options import Quiet
from habitat.commands.terminal import say


def warm_up(quiet: Quiet = False) -> None:
    """Compile the loops that plan yards and weigh corridors, once for this machine.

    Runs do so themselves when they first need them; done before, the first run finds them ready. Nothing is
    read and nothing written but compiled code, beside the package or in your cache.

    For example: habitat warm-up
    """
    from habitat.executor import Executor
    from habitat.pipeline.warm_up import JOBS

    with Executor(len(JOBS)) as executor:
        for words, seconds in executor.map(_timed, JOBS, None):
            if not quiet:
                say(f"{words}: ready after {seconds:.0f} s")


def _timed(job: tuple[str, Callable[[], None]], _common: None) -> tuple[str, float]:
    start = time.perf_counter()
    job[1]()
    return job[0], time.perf_counter() - start

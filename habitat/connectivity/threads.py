"""How many threads a compiled loop is worth: starting them costs more than small work takes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numba

SMALL_WORK = 5e7
"""Inner steps below which one thread is quicker than waking the others."""


@contextmanager
def threads_for(work: float) -> Iterator[None]:
    """Run what is inside with one thread if the work (inner steps) is small; results are the same."""
    before = numba.get_num_threads()
    numba.set_num_threads(before if work >= SMALL_WORK else 1)
    try:
        yield
    finally:
        numba.set_num_threads(before)

"""Links and graphs that were worked out once, kept within a bound of memory."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np

T = TypeVar("T")

MOST_BYTES = 2e8
"""Memory for links and graphs of all butterflies together, so that a town of 10,000 yards stays below 2 GB;
those of a neighbourhood of some hundred yards all have room."""


SHARED = {"shared": True}
"""Metadata of a field that takes no memory of its own, since its value is kept elsewhere."""


class Kept:
    """Results by key; beyond ``most_bytes`` those that nobody asked for longest go, and are made again.

    Before something new is made for one butterfly, what others hold beyond half of that goes, since making
    takes memory too.

    Examples
    --------
    >>> kept = Kept(most_bytes=1.0)
    >>> kept.get("monarch", "links", lambda: 1), kept.get("monarch", "links", lambda: 2)
    (1, 1)
    """

    def __init__(self, most_bytes: float = MOST_BYTES) -> None:
        self._most = most_bytes
        self._held: OrderedDict[tuple[str, Hashable], tuple[Any, int]] = OrderedDict()

    def get(self, butterfly: str, what: Hashable, make: Callable[[], T]) -> T:
        """Return what is kept of a butterfly; it is made where it is not."""
        key = (butterfly, what)
        if key in self._held:
            self._held.move_to_end(key)
            value: T = self._held[key][0]
            return value
        self._let_go(self._most / 2.0, but=butterfly)
        value = make()
        self._held[key] = value, bytes_of(value)
        self._let_go(self._most)
        return value

    def _let_go(self, most: float, but: str = "") -> None:
        """Let the oldest go until the rest has room; the newest stays, and all of one butterfly."""
        held = sum(size for _, size in self._held.values())
        for key in list(self._held)[:-1]:
            if held > most and key[0] != but:
                held -= self._held.pop(key)[1]


def bytes_of(value: object) -> int:
    """Return the bytes of all arrays in a record, and in the records in it.

    Examples
    --------
    >>> bytes_of(np.zeros(3))
    24
    """
    if isinstance(value, np.ndarray):
        return value.nbytes
    if is_dataclass(value):
        own = (field.name for field in fields(value) if not field.metadata.get("shared"))
        return sum(bytes_of(getattr(value, name)) for name in own)
    return 0

"""How long work tells how far it is."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, int, int], None]
"""Called with (stage in words, done, total); a total of 0: a sentence to keep in sight."""

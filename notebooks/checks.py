"""Checks for the exercises: they say whether an answer holds, and hint if not, but never give it away.

What an answer is held against stands in ``held/``, out of the student's sight, a section per exercise.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
PARTS = re.compile(r"^# %% Exercise ([\d.]+).*$", re.MULTILINE)


class NotYetError(AssertionError):
    """An answer of the instructor's key does not hold."""


def sections(path: Path) -> dict[str, str]:
    """Return the code of a file by exercise number."""
    parts = PARTS.split(path.read_text(encoding="utf-8"))
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def check(exercise: str, names: dict[str, Any]) -> None:
    """Say whether the answers to an exercise hold.

    Parameters
    ----------
    exercise
        Its number, such as "1.2".
    names
        What the notebook has named: its ``globals()``.
    """
    path = next(HERE.glob(f"held/{exercise.partition('.')[0]}_*.py"))

    def hold(answer: Any, holds: Callable[[Any], bool], hint: str) -> None:
        _hold(exercise, answer, holds, hint)

    exec(sections(path)[exercise], {**names, "hold": hold, "near": near})


def _hold(exercise: str, answer: Any, holds: Callable[[Any], bool], hint: str) -> None:
    """Say whether one answer holds; any error inside counts as no, None and ``...`` as not tried."""
    if answer is None or answer is Ellipsis:
        _tell(
            exercise,
            False,
            "not tried yet. Put your answer in place of the dots and run the cell again.",
        )
        return
    try:
        right = bool(holds(answer))
    except (TypeError, ValueError, KeyError, AttributeError, IndexError) as error:
        _tell(exercise, False, f"the answer has the wrong kind ({type(answer).__name__}: {error}). {hint}")
        return
    _tell(exercise, right, "that holds. Well done." if right else f"not yet. {hint}")


def near(expected: float, tolerance: float) -> Callable[[Any], bool]:
    """Return a test for a number within a tolerance."""
    return lambda answer: math.isclose(float(answer), expected, abs_tol=tolerance)


def _tell(exercise: str, right: bool, text: str) -> None:
    if not right and os.environ.get("HABITAT_KEY") == "1":
        raise NotYetError(f"Exercise {exercise}: {text}")
    print(f"Exercise {exercise}: {text}")

"""Checks for the exercises: they say whether an answer holds, and hint if not, but never give it away."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from typing import Any


class NotYetError(AssertionError):
    """An answer of the instructor's key does not hold."""


def check(exercise: str, answer: Any, holds: Callable[[Any], bool], hint: str) -> None:
    """Say whether an answer holds.

    Parameters
    ----------
    exercise
        Its number, such as "1.2".
    answer
        What the student worked out; None or ``...`` means not tried.
    holds
        Tells whether the answer holds; any error inside counts as no.
    hint
        What to think about if it does not hold.
    """
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

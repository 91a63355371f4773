"""How every command ends: errors that a user can mend, Ctrl-C and faults of our own, each with its code."""

from __future__ import annotations

import os
import signal
import threading
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

from typer.core import TyperGroup

from habitat.commands.options import PlainHelp
from habitat.commands.terminal import err, say, shown_command
from habitat.errors import HabitatError

MENDABLE, UNEXPECTED, INTERRUPTED, TERMINATED = 2, 70, 130, 143
"""Exit codes: an error that says how to mend it; a fault of the program (EX_SOFTWARE of BSD's sysexits.h);
stopped by Ctrl-C or by SIGTERM (128 and the number of the signal, as POSIX shells tell it)."""

DEBUG = "HABITAT_DEBUG"


class _Stopped(KeyboardInterrupt):
    """The system asked the program to end: the same as Ctrl-C, but for its exit code."""


def _stop(*_: object) -> None:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)  # once is enough
    threading.excepthook = lambda _: None  # threads that lose their processes have nothing to tell
    raise _Stopped


class CtrlCError(Exception):
    """Somebody pressed Ctrl-C."""


class Commands(PlainHelp, TyperGroup):
    """The commands together; Ctrl-C leaves them as an exception of our own, which ``guarded`` tells."""

    def invoke(self, ctx: Any) -> Any:
        """Call the command that is named."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt as error:
            raise CtrlCError(isinstance(error, _Stopped)) from None


def guarded(work: Callable[[], Any], arguments: list[str]) -> int:
    """Do the work of a command and tell in plain words how it ended.

    Parameters
    ----------
    work
        Leaves by ``SystemExit`` if all went well.
    arguments
        As typed, without the program's own name.

    Returns
    -------
    int
        The exit code: 0, or one of those above; what ``work`` leaves with goes on as ``SystemExit``.
    """
    signal.signal(signal.SIGTERM, _stop)
    try:
        work()
    except HabitatError as error:
        say(str(error), err)
        return MENDABLE
    except (CtrlCError, KeyboardInterrupt) as error:
        say(interrupted_words(arguments), err)
        return TERMINATED if isinstance(error, _Stopped) or error.args == (True,) else INTERRUPTED
    except Exception as error:
        if os.environ.get(DEBUG):
            traceback.print_exc()
        say(unexpected_words(error), err)
        return UNEXPECTED
    return 0


def interrupted_words(arguments: list[str]) -> str:
    """Return what to do after Ctrl-C.

    Examples
    --------
    >>> interrupted_words(["check", "study.toml"])
    'Stopped before the end; nothing was finished. To do it again: habitat check study.toml'
    """
    if arguments[:1] == ["run"] and "--until" not in arguments and "--help" not in arguments:
        again = arguments if "--resume" in arguments else [*arguments, "--resume"]
        return f"Stopped before the end; stages that were finished are kept. To go on: {shown_command(again)}"
    if arguments[:1] == ["open"]:
        return f"Closed; what was saved is kept. To open it again: {shown_command(arguments)}"
    return f"Stopped before the end; nothing was finished. To do it again: {shown_command(arguments)}"


def unexpected_words(error: Exception) -> str:
    """Return what to tell of a fault that nobody foresaw, and where its details are."""
    place = traceback.extract_tb(error.__traceback__)[-1:] if error.__traceback__ else []
    where = f" in {Path(place[0].filename).name}, line {place[0].lineno}" if place else ""
    said = " ".join(str(error).split())[:200]
    kind = f"{type(error).__name__}: {said}" if said else type(error).__name__
    details = (
        "The details stand above"
        if os.environ.get(DEBUG)
        else f"For the details set {DEBUG}=1 and call the same command again"
    )
    return (
        f"habitat cannot go on, by a fault of its own that nobody foresaw ({kind}{where}). {details}; send "
        "them to those who keep habitat. 'habitat check' may show what in the files brings it about."
    )

"""One opened folder of results: steps, undo, save and drawing anew, by one person at a time."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from habitat.errors import HabitatError, ParameterError
from habitat.progress import Progress
from habitat.what_if.base import Base, read_base
from habitat.what_if.edits import Edit
from habitat.what_if.saving import refuse_changed, save
from habitat.what_if.steps import Away, State, first_state, plan_to_join, stepped

MOST_STEPS = 100
"""So many steps can be undone (judgement)."""


@dataclass(frozen=True, slots=True)
class Busy:
    """What is at work: the stage in words, done and total; or what went wrong."""

    words: str
    done: int = 0
    total: int = 1
    failed: bool = False


class OutdatedError(HabitatError):
    """Somebody changed the plan in another window meanwhile."""

    kind = "outdated"


class Session:
    """Opened results; whoever changes them holds the lock, so that steps come one after the other.

    Every step names the version that it was made for: two windows cannot undo each other's work unseen.
    """

    def __init__(self, folder: Path, study: Path | None = None, progress: Progress | None = None) -> None:
        self.folder, self._study, self.lock = folder, study, threading.RLock()
        self.version, self.busy = 0, Busy("")
        self.work: threading.Thread | None = None
        self._planner = ThreadPoolExecutor(1)
        self._ahead: tuple[State, str, Future[Away]] | None = None
        self._open(progress)

    def _open(self, progress: Progress | None) -> None:
        base = read_base(self.folder, self._study, progress)
        first = first_state(base)
        with self.lock:  # whoever looks sees the old results or the new ones
            self.base: Base = base
            self.first: State = first
            self.states, self.saved, self.seen = [first], first, dict(base.files)
            self.version += 1
            self.busy = Busy("")

    @property
    def state(self) -> State:
        """What stands now."""
        return self.states[-1]

    @property
    def dirty(self) -> bool:
        """Whether something is not saved; a reach is only tried and never saved."""
        now, saved = self.state, self.saved
        return any(
            getattr(now.raw, name) is not getattr(saved.raw, name) for name in ("beds", "plantings", "points")
        ) or (now.request.layers is not saved.request.layers)

    def step(self, edit: Edit, version: int) -> None:
        """Take a step.

        Raises
        ------
        HabitatError
            If it cannot be done, or the plan changed in another window; all stays as it is.
        """
        with self._alone(version):
            ahead = self._found(str(edit.get("yard", ""))) if edit.get("do") == "join" else None
            self.states.append(stepped(self.base, self.state, edit, ahead))
            del self.states[: -MOST_STEPS - 1]
            self.version += 1

    def plan_ahead(self, yard: str) -> None:
        """Begin to plan a yard without a plan that somebody looks at: it may be let join next."""
        with self.lock:
            state, busy = self.state, self.busy.words and not self.busy.failed
            if busy or yard in state.away or (state.results["yard_id"] == yard).any():
                return
            if self._ahead is not None:
                if self._ahead[0] is state and self._ahead[1] == yard:
                    return
                self._ahead[2].cancel()
            self._ahead = state, yard, self._planner.submit(plan_to_join, state, yard)

    def _found(self, yard: str) -> Away | None:
        """Return the plan that was made ahead for a yard as all stands now, None if there is none."""
        if self._ahead is None or self._ahead[0] is not self.state or self._ahead[1] != yard:
            return None
        return self._ahead[2].result()

    def undo(self, version: int) -> None:
        """Take the last step back.

        Raises
        ------
        HabitatError
            If there is none, or the plan changed in another window.
        """
        with self._alone(version):
            if len(self.states) == 1:
                raise ParameterError("undo", "nothing", "a step that was made since the results were opened")
            self.states.pop()
            self.version += 1

    def save(self, version: int) -> None:
        """Write what stands now into the results, as ``habitat.what_if.saving.save`` does."""
        with self._alone(version):
            self.seen = save(self.base, self.state, self.saved, self.seen)
            self.saved = self.state
            self.version += 1

    def redraw(self, version: int, draw: Callable[[Path, Path | None, Progress], object]) -> None:
        """Begin to draw all results anew from what is saved, and open them then.

        Parameters
        ----------
        draw
            Draws a folder anew, given it, its study and whom to tell how far it is.

        Raises
        ------
        HabitatError
            If something is not saved, or a file changed on the disk meanwhile.
        """
        with self._alone(version):
            if self.dirty:
                raise ParameterError("redraw", "not saved yet", "asked for after saving")
            refuse_changed(self.folder, self.seen)
            self.busy = Busy("drawing anew")
            self.version += 1
            self.work = threading.Thread(target=self._redraw, args=(draw,), daemon=True)
            self.work.start()

    def _redraw(self, draw: Callable[[Path, Path | None, Progress], object]) -> None:
        def tell(words: str, done: int, total: int) -> None:
            self.busy = Busy(words, done, total)

        try:
            draw(self.folder, self._study, tell)
            self._open(tell)
        except HabitatError as error:
            self.busy = Busy(str(error), failed=True)
        except Exception as error:
            self.busy = Busy(f"a fault of habitat itself: {type(error).__name__}: {error}", failed=True)

    @contextmanager
    def _alone(self, version: int) -> Iterator[None]:
        """Hold the lock for a step that was made for a version."""
        with self.lock:
            if self.busy.words and not self.busy.failed:
                raise OutdatedError("the results are being drawn anew", "", "Wait until that is done")
            if version != self.version:
                what = "the plan was changed in another window meanwhile"
                raise OutdatedError(what, "", "Look at it as it is now, and do it again if it still fits")
            yield

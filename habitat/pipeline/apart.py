"""Reading in a process of its own, with bounds on time and memory: no file can take this process along.

Used by the command line. Where the system knows no such bounds (Windows), only time is bounded.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import pickle
import signal
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from habitat.errors import HabitatError, LayerError, RasterError, together

if TYPE_CHECKING:
    from habitat.layers.types import Parts
    from habitat.progress import Progress
    from habitat.settings.layers import Sources

S_PER_MB = 1.0
"""Processor time that is granted for each megabyte of a file [s]: a fifth of it is usual."""

TRIES = 4
"""After so many files that ended the process that read them, the rest is not tried."""

WAIT = 10.0
"""Where processor time cannot be bounded, the clock is, at so many times as much."""

CHILD = "import sys; sys.path[:] = {path!r}; from habitat.pipeline.apart import serve; serve()"


class _Switch:
    """Whether reading happens apart, and a process that has been started ahead of its work."""

    on = False
    ready: subprocess.Popen[bytes] | None = None


@contextmanager
def reading_apart() -> Iterator[None]:
    """Let all reading within the block happen in processes of their own."""
    before, _Switch.on = _Switch.on, True
    try:
        yield
    finally:
        _Switch.on = before
        _end(_Switch.ready)
        _Switch.ready = None


def is_on() -> bool:
    """Return whether reading happens apart."""
    return _Switch.on


def begin() -> None:
    """Start a process ahead of its work, if reading happens apart: its imports take seconds."""
    if _Switch.on and _Switch.ready is None:
        with contextlib.suppress(OSError):
            _Switch.ready = _started()


def _started() -> subprocess.Popen[bytes]:
    command = [sys.executable, "-c", CHILD.format(path=sys.path)]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    return subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environment, stderr=_errors_to()
    )


def _errors_to() -> int | None:
    """Return where the process's own complaints go: nowhere, unless somebody looks for a fault."""
    return None if os.environ.get("HABITAT_DEBUG") else subprocess.DEVNULL


def _end(process: subprocess.Popen[bytes] | None) -> None:
    if process is None:
        return
    if process.poll() is None:
        process.kill()
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            with contextlib.suppress(OSError):
                pipe.close()
    process.wait()


@dataclass(frozen=True, slots=True)
class _Request:
    """What the process is asked: what to read, what not to try, and how much it may take."""

    sources: Sources
    missing: dict[str, HabitatError]
    parent: int


def read_parts_apart(
    sources: Sources, progress: Progress | None, missing: dict[str, HabitatError] | None
) -> Parts:
    """Read layers and rasters as ``habitat.layers.read.read_parts`` does, each file within its bounds.

    A file that passes a bound, or that ends the process that reads it, is an error of that layer; the rest
    is read all the same.

    Raises
    ------
    HabitatError
        If bringing the layers together passes a bound.
    """
    faults = dict(missing or {})
    for _ in range(TRIES):
        found, key = _ask(_Request(sources, faults, os.getpid()), progress)
        if not isinstance(found, HabitatError):
            return found
        if key in faults or not key:
            raise found
        faults[key] = found
    raise together(list(faults.values()))


def _ask(request: _Request, progress: Progress | None) -> tuple[Parts | HabitatError, str]:
    """Return what a process has read, or the error of the file at which it ended, with the key of that."""
    begin()
    process, _Switch.ready = _Switch.ready or _started(), None
    assert process.stdin is not None
    assert process.stdout is not None
    at = ""
    atexit.register(_end, process)
    watch = _Watch(process, request.sources)
    try:
        with contextlib.suppress(OSError):  # it ended already: told below
            pickle.dump(request, process.stdin)
            process.stdin.close()
        for kind, *rest in _messages(process.stdout):
            if kind == "tell" and progress is not None:
                progress(*rest)
            elif kind == "at":
                at = rest[0]
                watch.at(at)
            elif kind == "read":
                return rest[0], at
            elif kind == "error":
                raise rest[0]
            elif kind == "fault":
                raise RuntimeError(f"reading {at or 'the study'} failed\n{rest[0]}")
        return _why(request.sources, at, process.wait(), watch.rung), at
    finally:
        watch.stop()
        _end(process)
        atexit.unregister(_end)


def _messages(pipe: IO[bytes]) -> Iterator[tuple[Any, ...]]:
    """Yield what the process says until it has no more to say."""
    while True:
        try:
            yield pickle.load(pipe)
        except (EOFError, pickle.UnpicklingError, OSError):
            return


class _Watch:
    """Ends a process by the clock where the system cannot bound its processor time."""

    def __init__(self, process: subprocess.Popen[bytes], sources: Sources) -> None:
        self.process, self.sources, self.rung = process, sources, False
        self._timer: threading.Timer | None = None
        self.at("")

    def at(self, key: str) -> None:
        """Begin to count anew, for a file."""
        self.stop()
        self._timer = threading.Timer(WAIT * seconds_for(self.sources, key), self._ring)
        self._timer.daemon = True
        self._timer.start()

    def _ring(self) -> None:
        self.rung = True
        self.process.kill()

    def stop(self) -> None:
        """Count no more."""
        if self._timer is not None:
            self._timer.cancel()


def seconds_for(sources: Sources, key: str) -> float:
    """Return the processor time that a file may take, by its key, or "" for all of them together [s]."""
    return float(sources.processor_s + S_PER_MB * _size_mb(sources, key))


def _size_mb(sources: Sources, key: str) -> float:
    every = {f"layers.{n}": s.path for n, s in sources.vectors.items()}
    every |= {f"rasters.{n}": s.path for n, s in sources.rasters.items()}
    paths = [every[key]] if key in every else list(every.values())
    return sum(_bytes(sources.resolve(path)) for path in paths) / 1e6


def _bytes(path: Path) -> int:
    try:
        return sum(p.stat().st_size for p in path.rglob("*")) if path.is_dir() else path.stat().st_size
    except (OSError, ValueError):
        return 0


def _why(sources: Sources, key: str, code: int, rung: bool) -> HabitatError:
    """Return the error of a file at which the process ended."""
    where = _path_of(sources, key)
    kind = RasterError if key.startswith("rasters.") else LayerError
    mend = "Open it in the program that made it and save it again"
    if rung or code == -getattr(signal, "SIGXCPU", 1 << 20):
        seconds = seconds_for(sources, key)
        part = f"{key} takes" if key else "bringing the layers together takes"
        return kind(
            f"{part} more than {seconds:,.0f} s of processor time to read",
            where,
            f"{mend}, leave out what is not needed, or raise limits.processor_s in the study",
        )
    how = f"by signal {-code}" if code < 0 else f"with code {code}"
    return kind(
        f"{key or 'bringing the layers together'} ended the process that read it ({how}): the file is "
        f"damaged, made to do harm, or takes more memory than {sources.memory_mb:,.0f} MB",
        where,
        f"{mend}; if it is known to be sound, raise limits.memory_mb in the study",
    )


def _path_of(sources: Sources, key: str) -> str:
    section, _, name = key.partition(".")
    held: dict[str, Any] = dict(sources.rasters if section == "rasters" else sources.vectors)
    return str(held[name].path) if name in held else sources.named_in


# In the process itself.


def serve() -> None:
    """Answer one request: read it from standard input, and write what is read to standard output."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what libraries print is no answer
    from habitat.layers.read import read_parts  # noqa: PLC0415

    try:
        request: _Request = pickle.load(sys.stdin.buffer)
    except EOFError:
        return
    threading.Thread(target=_end_with, args=(request.parent,), daemon=True).start()
    _bound_memory(request.sources.memory_mb)

    def say(*message: Any) -> None:
        pickle.dump(message, out, protocol=pickle.HIGHEST_PROTOCOL)
        out.flush()

    def at(key: str) -> None:
        _bound_time(seconds_for(request.sources, key))
        say("at", key)

    try:
        parts = read_parts(request.sources, lambda *told: say("tell", *told), request.missing, at=at)
        say("read", parts)
    except HabitatError as error:
        say("error", error)
    except Exception:
        say("fault", traceback.format_exc())


def _end_with(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(0.5)
    os._exit(1)


def _bound_memory(mb: float) -> None:
    """Bound what this process may take beside what it holds already, where the system can."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource  # noqa: PLC0415

        held = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        wanted = held + int(mb * 1e6)
        resource.setrlimit(resource.RLIMIT_AS, (wanted if hard < 0 else min(wanted, hard), hard))


def _bound_time(seconds: float) -> None:
    """Bound the processor time of this process from now on, where the system can."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource  # noqa: PLC0415

        used = resource.getrusage(resource.RUSAGE_SELF)
        wanted = int(used.ru_utime + used.ru_stime + seconds) + 1
        _, hard = resource.getrlimit(resource.RLIMIT_CPU)
        resource.setrlimit(resource.RLIMIT_CPU, (wanted if hard < 0 else min(wanted, hard), hard))

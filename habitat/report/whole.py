"""Write a few files, all of them or none, so that a full disk leaves no half of one."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from habitat.errors import OutputError


def write_whole(folder: Path, contents: Mapping[str, bytes], what: str, mend: str) -> list[Path]:
    """Write files into a folder, which is made where it is not there.

    What was there stays until all is written; where it cannot be, nothing is left that was not there before.

    Parameters
    ----------
    folder
        Where to.
    contents
        Bytes by path within the folder, such as ``own_tables/plants.csv``.
    what, mend
        What is written and how to mend it, in words for the error.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    targets = {Path(os.path.realpath(folder / name)): data for name, data in contents.items()}
    partial = {target: target.with_name(f".{target.name}.{os.getpid()}.partial") for target in targets}
    made: list[Path] = []
    try:
        for target, data in targets.items():
            _make(target.parent, made)
            with partial[target].open("xb") as file:
                file.write(data)
        for target, path in partial.items():
            path.replace(target)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"{what} cannot be written ({reason})", str(folder), mend) from None
    else:
        made.clear()
    finally:
        for path in partial.values():
            with _kept():
                path.unlink(missing_ok=True)
        for path in reversed(made):
            with _kept():
                path.rmdir()
    return [folder / name for name in contents]


def put_aside(path: Path) -> Path:
    """Give a file that was read ``-read`` at the end of its name, and a number where one has that name."""
    aside, number = path.with_stem(f"{path.stem}-read"), 1
    while aside.exists() or aside.is_symlink():
        number += 1
        aside = path.with_stem(f"{path.stem}-read-{number}")
    return path.rename(aside)


def _make(folder: Path, made: list[Path]) -> None:
    """Make a folder and those above it, and note which were not there."""
    for place in (*reversed(folder.parents), folder):
        if not place.exists():
            place.mkdir()
            made.append(place)


@contextmanager
def _kept() -> Iterator[None]:
    """Pass over what cannot be cleared away: the error that led here is what matters."""
    try:
        yield
    except OSError:
        return

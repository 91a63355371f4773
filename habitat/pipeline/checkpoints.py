"""Finished stages of a run kept on disk, so that a run that died can go on."""

from __future__ import annotations

import hashlib
import json
import pickle
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from habitat.report.package.provenance import input_hashes, versions
from habitat.study.model import Study

T = TypeVar("T")


class Checkpoints:
    """Results of stages in a folder, under a key of everything that they depend on.

    Parameters
    ----------
    folder
        Where to keep them; None keeps nothing.
    key
        As ``run_key`` makes it. Results under another key are never read.
    resume
        Whether to read what is there; else an older folder is removed first.
    """

    def __init__(self, folder: Path | None, key: str, *, resume: bool = False) -> None:
        self.folder, self.key, self.resume = folder, key, resume
        if folder is not None and not resume:
            shutil.rmtree(folder, ignore_errors=True)

    def stage(self, name: str, work: Callable[[], T]) -> T:
        """Return the kept result of a stage, or do the work and keep it."""
        if self.folder is None:
            return work()
        path = self.folder / f"{name}.{self.key[:16]}.stage"
        if self.resume and path.is_file():
            with path.open("rb") as file:
                return pickle.load(file)
        result = work()
        self.folder.mkdir(parents=True, exist_ok=True)
        partial = path.with_suffix(".partial")
        with partial.open("wb") as file:
            pickle.dump(result, file, protocol=pickle.HIGHEST_PROTOCOL)
        partial.replace(path)
        return result

    def clear(self) -> None:
        """Remove what was kept, once the results are written."""
        if self.folder is not None:
            shutil.rmtree(self.folder, ignore_errors=True)


def run_key(study: Study, yard_ids: tuple[str, ...]) -> str:
    """Return a key that changes with the settings, the inputs, the versions and the yards asked for."""
    parts = [study.model_dump(mode="json"), input_hashes(study), versions(), list(yard_ids)]
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()

"""Results drawn anew in their folder, by one run at a time."""

from __future__ import annotations

from pathlib import Path

from habitat.pipeline import run as running
from habitat.pipeline.alone import alone_in
from habitat.pipeline.redraw import study_of
from habitat.progress import Progress
from habitat.report.package.carried import read_carried_of
from habitat.report.plan import Plan
from habitat.report.write import clear_the_way, write_plan
from habitat.study.reading import read_study


def redraw_results(
    folder: Path,
    study: Path | None = None,
    *,
    new: Path | None = None,
    listed: Path | None = None,
    workers: int = 1,
    progress: Progress | None = None,
) -> tuple[Plan, Path, list[str]]:
    """Draw results anew as people edited them, and write them.

    Parameters
    ----------
    folder
        Edited results.
    study
        The study file, if it has been moved.
    new
        Where to write; left out, in place of ``folder``.
    listed
        An edited list of plantings from elsewhere.
    workers
        Processes.
    progress
        Called with (stage in words, done, total).

    Returns
    -------
    tuple
        The plan, where it was written, and a sentence for each folder that was moved beside.

    Raises
    ------
    HabitatError
        As ``run`` and ``write_plan``; the old results stand then.
    """
    told: list[str] = []
    target = new or folder
    with alone_in(target):
        read = read_study(study or study_of(folder, read_carried_of(folder).study))
        clear_the_way(read, target, told, replace=new is None)
        plan = running.run(read, after=folder, redraw=True, listed=listed, workers=workers, progress=progress)
        out = write_plan(plan, target, replace=new is None, workers=workers, progress=progress, told=told)
    return plan, out, told

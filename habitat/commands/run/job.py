"""A run as the command line does it: options in, results on disk, a few lines to read."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from habitat.commands.run.steps import next_steps
from habitat.errors import HabitatError, OutputError, ParameterError
from habitat.pipeline.alone import alone_in
from habitat.pipeline.checkpoints import Checkpoints, run_key, stage_folder
from habitat.pipeline.follow import earlier_folder
from habitat.pipeline.run import STAGES, run, run_until
from habitat.progress import Progress
from habitat.report.compare.runs import compare_runs
from habitat.report.compare.to_do_words import to_do_lines
from habitat.report.package.summary import gaps, summary_lines
from habitat.report.write import clear_the_way, write_plan
from habitat.study.model import Study
from habitat.study.reading import read_study


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOptions:
    """What ``habitat run`` may be told."""

    until: str | None = None
    yard_ids: tuple[str, ...] = ()
    effort: str | None = None
    audience: str | None = None
    replace: bool = False
    resume: bool = False
    workers: int = 1
    cluster: str = ""
    after: Path | None = None
    everyone: bool = False

    def __post_init__(self) -> None:
        if self.until is not None and self.until not in STAGES:
            raise ParameterError("--until", self.until, "one of " + ", ".join(STAGES))


def run_job(
    path: Path, folder: Path, options: RunOptions, progress: Progress | None = None
) -> dict[str, Any]:
    """Read the study, do the job, write the folder; return exit code, summary, what is next, and headline.

    Raises
    ------
    OutputError
        If the folder is there already and may not be replaced, somebody would lose something by it, or
        another run is at work there (asked before any work is done).
    HabitatError
        If something else the user can mend stands in the way; nothing is left beside the target.
    """
    with alone_in(folder):
        return _run_alone(path, folder, options, progress)


def _run_alone(path: Path, folder: Path, options: RunOptions, progress: Progress | None) -> dict[str, Any]:
    study = _with_options(read_study(path), options)
    told: list[str] = []
    after = earlier_folder(study, options.after)
    if after is not None:
        refuse_earlier(folder, after)
    place = clear_the_way(study, folder, told, replace=options.replace)
    if options.until is not None:
        lines = run_until(
            study,
            options.until,
            yard_ids=options.yard_ids,
            workers=options.workers,
            cluster=options.cluster,
            progress=progress,
        )
        return {"exit": 0, "summary": lines, "next": lines, "headline": None, "out": None}
    key = run_key(study, options.yard_ids, after)
    keep = Checkpoints(stage_folder(place), key, resume=options.resume)
    try:
        plan = run(
            study,
            yard_ids=options.yard_ids,
            after=after,
            workers=options.workers,
            cluster=options.cluster,
            progress=progress,
            checkpoints=keep,
        )
        written = write_plan(
            plan, folder, replace=options.replace, workers=options.workers, progress=progress, told=told
        )
    except OutputError:
        raise  # the work is done and kept: --resume writes it, once there is a place
    except HabitatError:
        keep.clear()  # what a person can mend changes the inputs, and with them every stage
        raise
    keep.clear()
    to_do = what_to_do(after, written)
    shown = Path(os.path.normpath(written))
    where = f"Open {shown / 'page.html'}; what each file is stands in {shown / 'READ_ME.txt'}."
    more = [*told, *keep.notes, *_old_stages(place)]
    return {
        "exit": 1 if len(plan.set_aside) else 0,
        "summary": [*to_do, *summary_lines(plan), *gaps(plan), where, *more],
        "next": [*to_do, *next_steps(plan, written), *gaps(plan), *more],
        "headline": plan.headline,
        "out": str(written),
    }


def refuse_earlier(folder: Path, after: Path) -> None:
    """Refuse to write results over those that they follow: the chain of runs would be lost."""
    target, earlier = folder.resolve(), after.resolve()
    if target == earlier or target in earlier.parents or earlier in target.parents:
        raise OutputError(
            f"the results that --after names are here ({after})", str(folder), "Name a new folder with --out"
        )


def what_to_do(after: Path | None, written: Path) -> list[str]:
    """Return what a coordinator must do after a run that follows another: whose sheet, what to buy."""
    return [] if after is None else to_do_lines(compare_runs(after, written)["to_do"])


def _old_stages(place: Path) -> list[str]:
    """Tell of what earlier versions kept beside results: nothing reads it any more, and anybody can."""
    old = place.with_name(f".{place.name}.unfinished")
    if not old.is_dir():
        return []
    return [f"An earlier version left {old}, which may hold addresses and is of no use any more: delete it."]


def _with_options(study: Study, options: RunOptions) -> Study:
    if options.effort is not None:
        study = study.changed(planting={"effort": options.effort})
    if options.audience is not None:
        study = study.changed(report={"audience": options.audience})
    if options.everyone:
        study = study.changed(planting={"everyone": True})
    return study

"""The whole job: read, survey, score, plant, chain, report; with the rounds between planting and corridor."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from habitat.cluster import executor_of
from habitat.connectivity.types import Corridor, Weighed
from habitat.errors import ParameterError
from habitat.executor import Executor
from habitat.knowledge.place import outside_region
from habitat.pipeline.assemble import assemble
from habitat.pipeline.candidates import with_candidates
from habitat.pipeline.checkpoints import Checkpoints
from habitat.pipeline.corridor import corridor_task
from habitat.pipeline.could_be import could_be
from habitat.pipeline.follow import (
    carried_on,
    earlier_folder,
    follow,
    next_round,
    rounds_of,
    unread_season,
    waiting,
    with_matches,
)
from habitat.pipeline.native import native_notes
from habitat.pipeline.planting import (
    Groundwork,
    corridor_butterflies,
    draws_of,
    existing_of,
    plan_round,
)
from habitat.pipeline.preflight import (
    MOST_UNASKED,
    by_rule,
    make_ready,
    refuse_unread,
    time_words,
    yards_to_plan,
)
from habitat.pipeline.reading import read_layers
from habitat.pipeline.redraw import redrawn
from habitat.pipeline.survey import survey
from habitat.pipeline.warm_up import JOBS
from habitat.planting.settled import Carried, Round
from habitat.planting.types import Planting
from habitat.progress import Progress
from habitat.remarks import Remark
from habitat.report.package.provenance import peak_memory_mb, reset_peak_memory
from habitat.report.plan import Plan
from habitat.report.words.en import english
from habitat.report.written import naming_edits
from habitat.revision.earlier import Earlier, read_earlier, settled_layers
from habitat.study.fitting import errors_not_carried, needs_of
from habitat.study.model import Study
from habitat.terms import ASKED, REFUSED

STAGES = ("layers", "site", "suitability", "planting", "connectivity")
T = TypeVar("T")


@dataclass
class _Clock:
    """Seconds and peak memory by stage, and the progress that a caller wants to see."""

    progress: Progress | None
    timings: dict[str, dict[str, float]] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        reset_peak_memory()
        start = time.perf_counter()
        yield
        entry = self.timings.setdefault(name, {"seconds": 0.0, "peak_mb": 0.0})
        entry["seconds"] = round(entry["seconds"] + time.perf_counter() - start, 3)
        entry["peak_mb"] = round(max(entry["peak_mb"], peak_memory_mb()), 1)


def run(
    study: Study,
    *,
    yard_ids: tuple[str, ...] = (),
    after: str | Path | None = None,
    redraw: bool = False,
    listed: Path | None = None,
    workers: int = 1,
    cluster: str = "",
    progress: Progress | None = None,
    checkpoints: Checkpoints | None = None,
) -> Plan:
    """Do the whole job for a study and return the plan; nothing is written.

    Parameters
    ----------
    study
        As ``read_study`` returns it. ``study.date`` must be given.
    yard_ids
        Plan only these yards (members or candidates); empty plans all of them.
    after
        Results of an earlier run: plans that are accepted, ordered or planted there stay as they are.
        Left out, what the study says.
    redraw, listed
        Whether to solve nothing and take all plans from ``after`` as people edited them; and an edited list
        of plantings that is not in those results.
    workers
        Processes for planning yards; any number gives the same plan.
    cluster
        "" for processes of this machine, "local" or the address of a scheduler for a dask cluster.
    progress
        Called with (stage in words, done, total).
    checkpoints
        Where finished stages are kept, so that a run that died can go on.

    Raises
    ------
    HabitatError
        If something the user can mend stands in the way.

    Examples
    --------
    >>> import habitat
    >>> study = habitat.read_study("sample_geodata/study.toml")  # doctest: +SKIP
    >>> plan = habitat.run(study)  # doctest: +SKIP
    >>> plan.plantings.groupby("plant")["count"].sum()  # doctest: +SKIP
    """
    refuse_unread(study)
    clock = _Clock(progress)
    keep = checkpoints or Checkpoints(None, "")
    folder = earlier_folder(study, after)
    with naming_edits(folder), executor_of(workers, cluster) as executor:
        start = partial(redrawn, listed=listed) if redraw else follow
        request, notes = _prepare(study, yard_ids, executor, clock, keep, folder, start)
        planting, corridor, rounds, carried = _rounds(request, executor, clock, keep)
        return assemble(request, planting, corridor, rounds, carried, notes, clock.timings)


def run_until(
    study: Study,
    until: str,
    *,
    yard_ids: tuple[str, ...] = (),
    workers: int = 1,
    cluster: str = "",
    progress: Progress | None = None,
) -> list[str]:
    """Do the stages up to one and say what they found; nothing is written.

    Parameters
    ----------
    until
        One of STAGES.
    """
    layers = read_layers(study, progress)
    lines = [
        f"{len(layers.yards)} yards; CRS {layers.crs.to_string()}; "
        f"grid of {layers.grid.shape[0]} x {layers.grid.shape[1]} cells of {layers.grid.cell_m:g} m."
    ]
    if until == "layers":
        return lines
    with executor_of(workers, cluster) as executor:
        return lines + _stop_after(study, until, yard_ids, executor, progress)


def ready_to_redraw(
    study: Study, folder: Path, progress: Progress | None = None
) -> tuple[Groundwork, tuple[Remark | str, ...]]:
    """Return what planting takes to draw results anew as people edited them, and what there is to tell.

    Parameters
    ----------
    study
        That of the results.
    folder
        Where they are.

    Raises
    ------
    HabitatError
        As ``run`` with ``redraw``.
    """
    clock, keep = _Clock(progress), Checkpoints(None, "")
    with naming_edits(folder):
        return _prepare(study, (), Executor(), clock, keep, folder, redrawn)


def _stop_after(
    study: Study, until: str, yard_ids: tuple[str, ...], executor: Executor, progress: Progress | None
) -> list[str]:
    request, notes = _prepare(study, yard_ids, executor, _Clock(progress), Checkpoints(None, ""))
    yards, say = request.site.yards, english()
    lines = [
        f"Assessed: {', '.join(request.site.assessed) or 'nothing'}; "
        f"mean known share {yards['known_share'].mean():.0%}."
    ]
    if until in ("site", "suitability"):
        return [*lines, *map(say, notes)]
    planting = plan_round(request, progress, executor)
    lines.append(f"{len(planting.plantings)} plantings in {len(planting.beds)} beds.")
    if until == "connectivity":
        lines += map(say, _corridor(request, planting, progress, executor).sentences)
    return [*lines, *map(say, planting.notes)]


def _prepare(
    study: Study,
    yard_ids: tuple[str, ...],
    executor: Executor,
    clock: _Clock,
    keep: Checkpoints,
    after: Path | None = None,
    start: Callable[[Groundwork, Earlier], tuple[Groundwork, tuple[Remark, ...]]] = follow,
) -> tuple[Groundwork, tuple[Remark | str, ...]]:
    """Do the stages before planting, and return what planting takes with the notes so far."""
    with clock.stage("layers"):
        layers = keep.stage("layers", lambda: read_layers(with_matches(study, after), clock.progress))
        earlier = None if after is None else read_earlier(after, study, layers, season=start is follow)
        layers, moved = (layers, ()) if earlier is None else settled_layers(layers, earlier)
        ready = make_ready(study, layers, yard_ids)
        study, knowledge = ready.study, ready.knowledge
    if clock.progress is not None and len(ready.chosen) > MOST_UNASKED:
        clock.progress(time_words(len(ready.chosen), max(executor.processes, 1)), 0, 0)
    executor.start(work for _, work in JOBS)
    with clock.stage("site"):
        site = keep.stage("site", lambda: survey(study, layers, clock.progress))
    with clock.stage("suitability"):
        needs = needs_of(study, knowledge, site.assessed, site.by_tests).subset(ready.allowed)
        existing, notes = existing_of(layers, knowledge)
    asked, asked_notes = waiting(study, earlier)
    request = Groundwork(
        study, layers, site, knowledge, needs, existing, ready.wishes, ready.chosen, asked=asked
    )
    request, rule_notes = _asked_by_rule(request, yard_ids, earlier, executor)
    request, told = (request, ()) if earlier is None else start(request, earlier)
    return request, (
        *told,
        *moved,
        *asked_notes,
        *unread_season(layers, earlier),
        *outside_region(knowledge, layers.yards),
        *native_notes(study, knowledge, layers.yards),
        *ready.season_notes,
        *knowledge.set_aside,
        *notes,
        *errors_not_carried(study),
        *ready.wish_notes,
        *rule_notes,
    )


def _asked_by_rule(
    request: Groundwork, yard_ids: tuple[str, ...], earlier: Earlier | None, executor: Executor
) -> tuple[Groundwork, tuple[Remark, ...]]:
    """Return the request with those who may be asked by rule as candidates, and notes."""
    if not by_rule(request.study, request.layers, yard_ids):
        return request, ()
    declined = set[str]() if earlier is None else set(earlier.having(*REFUSED))
    asked = {yard for yard, (status, _) in request.asked.items() if status == ASKED}
    barred = frozenset(declined | (set(request.asked) - asked))
    layers, estimated, told = with_candidates(
        request, corridor_butterflies(request), barred, frozenset(asked), executor
    )
    chosen = yards_to_plan(request.study, layers, yard_ids)
    return replace(request, layers=layers, estimated=estimated, yard_ids=chosen), told


def _rounds(
    request: Groundwork, executor: Executor, clock: _Clock, keep: Checkpoints
) -> tuple[Planting, Corridor, list[dict[str, float]], Carried]:
    """Alternate planting and corridor, and keep the round that is worth most to members (see ``Weighed``).

    After an earlier run there are as many rounds as led to its plan, and the last is kept.
    """
    best: tuple[float, Planting, int] | None = None
    first: Weighed | None = None
    told: list[dict[str, float]] = []
    given: list[Round] = [Round()]
    many = rounds_of(request)
    for number in range(1, many + 1):
        with clock.stage("planting"):
            planting = keep.stage(f"planting-{number}", _bind(plan_round, request, clock.progress, executor))
        with clock.stage("connectivity"):
            weighed = keep.stage(f"weighed-{number}", _bind(_weighed, request, planting, clock.progress))
        first = first or weighed
        worth = weighed.worth_beside(first)
        told.append({"round": number, "worth": worth})
        if best is None or worth > best[0] or request.earlier is not None:
            best = (worth, planting, number)
        if number < many:
            given.append(next_round(request, planting, weighed, number))
            request = replace(
                request,
                bed_sites=planting.bed_sites,
                weights=given[-1].weights,
                neighbour_nectar=given[-1].neighbour_nectar,
            )
    if best is None:
        raise ParameterError("connectivity.rounds", many, "at least 1")
    with clock.stage("connectivity"):
        corridor = keep.stage("connectivity", _bind(_corridor, request, best[1], clock.progress, executor))
    return best[1], corridor, told, carried_on(request, best[1].order, tuple(given[: best[2]]))


def _bind(function: Callable[..., T], *arguments: Any) -> Callable[[], T]:
    return lambda: function(*arguments)


def _weighed(request: Groundwork, planting: Planting, progress: Progress | None) -> Weighed:
    """Return what a round of planning is worth to the corridor."""
    butterflies = corridor_butterflies(request)
    return corridor_task(
        request.study, request.layers, request.knowledge, planting, butterflies, progress
    ).weigh(progress)


def _corridor(
    request: Groundwork, planting: Planting, progress: Progress | None, executor: Executor
) -> Corridor:
    """Return the corridor, its invitations tried with the errors that the maps state."""
    butterflies = corridor_butterflies(request)
    whole = could_be(request, butterflies, executor)
    draws = draws_of(request, planting, butterflies)
    return corridor_task(
        request.study, request.layers, request.knowledge, planting, butterflies, progress,
        not_now=frozenset(request.asked),
    ).score(progress, draws, whole)  # fmt: skip

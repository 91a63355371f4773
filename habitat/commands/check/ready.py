"""What a run would refuse of a study whose layers are sound: names, people, the run before, the target."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from habitat.errors import HabitatError, together
from habitat.layers.types import Layers
from habitat.pipeline.follow import earlier_folder
from habitat.pipeline.preflight import make_ready
from habitat.report.written import refuse_loss
from habitat.revision.earlier import read_earlier
from habitat.study.model import Study


def refused_by_run(
    study: Study, layers: Layers, *, folder: Path | None = None, replace: bool = False
) -> None:
    """Raise whatever ``habitat run`` would refuse, every reason at once.

    Parameters
    ----------
    study, layers
        As they were read.
    folder
        The target of the run; None to leave it out.
    replace
        Whether results that are there may be replaced.

    Raises
    ------
    HabitatError
        If a run would refuse the study, the results that it follows, or the target.
    """
    faults: list[HabitatError] = []
    after = earlier_folder(study, None)
    asked: list[Callable[[], object]] = [lambda: make_ready(study, layers)]
    if after is not None:
        asked.append(lambda: read_earlier(after, study, layers))
    if folder is not None:
        place = Path(os.path.realpath(folder))
        asked.append(lambda: refuse_loss(study, place, replace=replace))
    for ask in asked:
        try:
            ask()
        except HabitatError as error:
            faults.append(error)
    if faults:
        raise together(faults)

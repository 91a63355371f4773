"""What a study says of needs and of errors of its maps, as suitability takes it."""

from __future__ import annotations

from collections.abc import Sequence

from habitat.knowledge import Knowledge
from habitat.study.model import Study
from habitat.suitability.maps import MapError, map_errors, not_carried
from habitat.suitability.needs import compile_needs
from habitat.suitability.types import Needs


def needs_of(
    study: Study, knowledge: Knowledge, assessed: Sequence[str], by_tests: Sequence[str] = ()
) -> Needs:
    """Return the needs of all plants as a study weighs them; see ``habitat.suitability.compile_needs``.

    Parameters
    ----------
    study
        Its ``[suitability]``, seed, and the errors that its rasters state.
    knowledge
        The plant tables.
    assessed, by_tests
        As ``Site.assessed`` and ``Site.by_tests``.

    Raises
    ------
    StudyError
        If the study names no need, breaks a range, or states an error that cannot be understood.
    """
    return compile_needs(
        knowledge,
        study.suitability,
        assessed,
        by_tests,
        errors=None if study.suitability.confidence is None else errors_of(study),
        seed=study.study.seed,
        named_in=str(study.path),
    )


def errors_of(study: Study) -> dict[str, MapError]:
    """Return the errors that the rasters of a study state, by factor."""
    return map_errors(_stated(study), str(study.path))


def errors_not_carried(study: Study) -> tuple[str, ...]:
    """Return in words which stated errors of a study's rasters no chance or confidence knows of."""
    return not_carried(_stated(study))


def _stated(study: Study) -> dict[str, float | dict[str, float] | None]:
    return {name: source.error for name, source in study.rasters.items()}

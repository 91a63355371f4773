"""What a study names, as the layers are to read it, and every file that reading it opens."""

from __future__ import annotations

from pathlib import Path

from habitat.layers.files_read import files_read
from habitat.settings.layers import Sources
from habitat.study.model import Study


def sources_of(study: Study) -> Sources:
    """Return what a study names, and the grid that it asks for."""
    return Sources(
        vectors=study.layers,
        rasters=study.rasters,
        folder=study.folder,
        crs=study.study.crs,
        cell_m=study.study.cell_m,
        named_in=str(study.path),
        memory_mb=study.limits.memory_mb,
        processor_s=study.limits.processor_s,
        everyone=study.planting.everyone,
    )


def study_files(study: Study) -> dict[str, Path]:
    """Return every file that reading a study opens, by the name that the study gives it.

    The study file itself, layers, rasters, classes of rasters, own tables and crossing costs, each with the
    files that libraries read along with it (``habitat.layers.files_read``).
    """
    own = {study.path.name: study.path} if study.path.is_file() else {}
    return own | files_read(study.folder, _named(study))


def _named(study: Study) -> list[str]:
    rasters = [study.rasters[name] for name in sorted(study.rasters)]
    folder = study.knowledge.region_folder
    own = [f"{folder}/{path.name}" for path in sorted(study.resolve(folder).glob("*.*"))] if folder else []
    tables = [*study.knowledge.tables.values(), *own]
    legends = [raster.classes for raster in rasters if isinstance(raster.classes, str)]
    costs = study.connectivity.crossing_costs
    letters = (study.report.letter_ask, study.report.letter_hand_over, study.report.letter_spring)
    named = [study.layers[name].path for name in sorted(study.layers)]
    return [
        *named,
        *(r.path for r in rasters),
        *tables,
        *legends,
        *([costs] if costs else []),
        *filter(None, letters),
    ]

"""A study's layers: what the study file names, read, cleaned and brought onto its grid."""

from __future__ import annotations

from habitat.errors import HabitatError, together
from habitat.layers import read as layers_read
from habitat.layers.types import Layers, Parts
from habitat.pipeline.apart import is_on, read_parts_apart
from habitat.progress import Progress
from habitat.study.files import sources_of
from habitat.study.model import Study


def read_layers(study: Study, progress: Progress | None = None) -> Layers:
    """Read, check, repair and align every layer and raster of a study.

    Parameters
    ----------
    study
        As ``habitat.read_study`` gives it.
    progress
        Called with (words, done, total).

    Returns
    -------
    Layers
        Every row accounted for: rows in = used + repaired + rows set aside.

    Raises
    ------
    LayerError, CrsError, RasterError
        If a file cannot be read, a CRS is missing or impossible, or layers describe different places;
        several of them come together, in one SeveralError.

    Examples
    --------
    >>> import habitat
    >>> layers = read_layers(habitat.read_study("sample_geodata"))
    >>> len(layers.yards), layers.crs.to_epsg()
    (225, 32617)
    """
    if not is_on():
        return layers_read.read_layers(sources_of(study), progress)
    parts = read_parts_apart(sources_of(study), progress, None)
    if parts.faults:
        raise together(list(parts.faults.values()))
    layers = parts.whole()
    assert layers is not None  # without faults there are yards
    return layers


def read_parts(
    study: Study, progress: Progress | None = None, missing: dict[str, HabitatError] | None = None
) -> Parts:
    """Read every layer and raster of a study that can be read, and keep the errors of those that cannot.

    Parameters
    ----------
    missing
        Errors by key ("layers.plants") of files that are known not to be there: these are not tried.
    """
    if is_on():
        return read_parts_apart(sources_of(study), progress, missing)
    return layers_read.read_parts(sources_of(study), progress, missing)

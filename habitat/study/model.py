"""The study file: one TOML file that says what to read and what is wanted.

Every key is checked on reading; an unknown one is an error that names the nearest known key.
Paths are relative to the study file. Each section is one class in ``habitat.settings``, the only place where
a default stands and where a key is explained; ``habitat.study.reference`` prints it.
"""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import Any

from pydantic import Field, PrivateAttr, ValidationError, field_validator, model_validator

from habitat.errors import StudyError
from habitat.settings.base import Section
from habitat.settings.connectivity import ConnectivitySettings
from habitat.settings.groups import GroupSettings
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.layers import VECTOR_LAYERS, RasterSource, VectorSource, full_path, raster_layers
from habitat.settings.limits import LimitSettings
from habitat.settings.planting import PlantingSettings
from habitat.settings.report import ReportSettings
from habitat.settings.site import SiteSettings
from habitat.settings.study import StudyHead
from habitat.settings.suitability import SuitabilitySettings

PLAIN_FAULTS = {
    "float_": "it must be a number",
    "int_": "it must be a whole number",
    "string_type": "it must be text in quotes",
    "bool_": "it must be true or false",
    "date_": "it must be a date such as 2026-03-01, without quotes",
    "list_": "it must be a list in square brackets",
    "tuple_": "it must be a list in square brackets",
    "dict_": "it must be a table of its own, headed once in single square brackets",
    "model_": "it must be a table of its own, headed once in single square brackets",
    "less_than_equal": "it must be {le:g} or less",
    "less_than": "it must be less than {lt:g}",
    "greater_than_equal": "it must be {ge:g} or more",
    "greater_than": "it must be more than {gt:g}",
    "literal_error": "it must be {expected}",
}
"""What the kinds of faults that the checker names (by the beginning of their names) mean to people."""


class StudyModel(Section):
    """The whole study file."""

    study: StudyHead = Field(default_factory=StudyHead)
    layers: dict[str, VectorSource]
    rasters: dict[str, RasterSource] = Field(default_factory=dict)
    knowledge: KnowledgeSettings = Field(default_factory=KnowledgeSettings)
    site: SiteSettings = Field(default_factory=SiteSettings)
    suitability: SuitabilitySettings = Field(default_factory=SuitabilitySettings)
    planting: PlantingSettings = Field(default_factory=PlantingSettings)
    connectivity: ConnectivitySettings = Field(default_factory=ConnectivitySettings)
    report: ReportSettings = Field(default_factory=ReportSettings)
    limits: LimitSettings = Field(default_factory=LimitSettings)
    groups: dict[str, GroupSettings] = Field(default_factory=dict)

    @field_validator("layers")
    @classmethod
    def _known_layers(cls, value: dict[str, VectorSource]) -> dict[str, VectorSource]:
        _check_names(value, VECTOR_LAYERS, "layers")
        if "yards" not in value:
            raise ValueError("no [layers.yards]: yard polygons are the one layer that every study needs")
        return value

    @field_validator("rasters")
    @classmethod
    def _known_rasters(cls, value: dict[str, RasterSource]) -> dict[str, RasterSource]:
        _check_names(value, raster_layers(), "rasters")
        return value

    @model_validator(mode="after")
    def _mapped_before(self) -> StudyModel:
        """Refuse layers that were mapped in a year after that of the study: a slip of the pen."""
        for name, source in self.layers.items():
            if source.date and self.study.date and source.date.year > self.study.date.year:
                raise ValueError(
                    f"layers.{name}.date is {source.date.year}, after study.date ({self.study.date}): "
                    "say when the layer was mapped"
                )
        return self


class Study(StudyModel):
    """A study file that has been read and checked; ``folder`` is where its paths start."""

    _path: Path = PrivateAttr(default=Path("study.toml"))

    @property
    def path(self) -> Path:
        """The study file."""
        return self._path

    @property
    def folder(self) -> Path:
        """The folder that paths in the study are relative to."""
        return self._path.parent

    def resolve(self, path: str) -> Path:
        """Return a path of the study as a path on disk."""
        return full_path(self.folder, path)

    def changed(self, **sections: dict[str, Any]) -> Study:
        """Return a copy with some keys of some sections changed, checked again.

        Examples
        --------
        >>> study = Study(layers={"yards": {"path": "yards.gpkg"}})
        >>> study.changed(planting={"effort": "proven"}).planting.effort
        'proven'
        """
        data = self.model_dump(exclude_unset=True)  # what is left out stays so
        for section, keys in sections.items():
            data[section] = {**data.get(section, {}), **keys}
        return parse_study(data, self._path)


def _check_names(value: dict[str, Any], known: tuple[str, ...], what: str) -> None:
    for name in value:
        if name not in known:
            raise ValueError(
                f"unknown {what[:-1]} {name!r}{_nearest(name, known)}; known: {', '.join(known)}"
            )


def _nearest(name: str, known: tuple[str, ...] | list[str]) -> str:
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.4)
    return f"; did you mean {close[0]!r}?" if close else ""


def _known_keys(location: tuple[int | str, ...]) -> list[str]:
    """Return the keys allowed in the section that an error's location points into."""
    if len(location) == 1:
        return list(StudyModel.model_fields)
    sources: dict[str, type[Section]] = {"layers": VectorSource, "rasters": RasterSource}
    section = str(location[0])
    if section in sources:
        return list(sources[section].model_fields)
    annotation = StudyModel.model_fields[section].annotation
    return list(getattr(annotation, "model_fields", {}))


def _explain(error: ValidationError, path: Path) -> StudyError:
    lines = []
    for fault in error.errors():
        key = ".".join(str(part) for part in fault["loc"]) or "study file"
        if fault["type"] == "extra_forbidden":
            hint = _nearest(str(fault["loc"][-1]), _known_keys(fault["loc"]))
            lines.append(f"unknown key {key!r}{hint}")
        elif fault["type"] == "missing":
            short = isinstance(fault["loc"][-1], int)
            what = (
                f"{key.rpartition('.')[0]}: it holds too few values" if short else f"key {key!r} is missing"
            )
            lines.append(what)
        else:
            given = fault.get("input")
            shown = f" (given: {given!r})" if isinstance(given, (str, int, float, bool, list)) else ""
            lines.append(f"{key}: {_plain_fault(fault)}{shown}")
    return StudyError(
        "; ".join(lines), str(path), "Mend the study file; 'habitat new' writes a commented one"
    )


def _plain_fault(fault: Any) -> str:
    """Return what is wrong with a value in plain words."""
    kind, limits = str(fault["type"]), fault.get("ctx", {})
    for start, words in PLAIN_FAULTS.items():
        if kind.startswith(start):
            return words.format(**{"le": 0, "ge": 0, "gt": 0, "lt": 0, "expected": ""} | limits)
    return str(fault["msg"]).removeprefix("Value error, ")


def parse_study(data: dict[str, Any], path: Path) -> Study:
    """Check a study given as nested dicts.

    Raises
    ------
    StudyError
        With every fault found, each named by its key.
    """
    try:
        study = Study.model_validate(data)
    except ValidationError as error:
        raise _explain(error, path) from None
    study._path = path
    return study

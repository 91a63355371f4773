"""The study file: one TOML file that says what to read and what is wanted.

Every key is checked on reading; an unknown one is an error that names the nearest known key.
Paths are relative to the study file. Each section is one class here; its docstring and field comments
are the only place where a default stands.
"""

from __future__ import annotations

import datetime as dt
import difflib
import os
import re
import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    PrivateAttr,
    ValidationError,
    field_validator,
    model_validator,
)
from pyproj import CRS
from pyproj.exceptions import CRSError

from habitat.errors import HabitatError, MissingFileError, StudyError, together
from habitat.study.files import file_faults

VECTOR_LAYERS = (
    "yards",
    "participants",
    "plants",
    "buildings",
    "paving",
    "water",
    "trees",
    "wires",
    "buried",
    "septic",
    "fences",
    "streets",
    "landcover",
    "anchors",
    "soil_units",
    "soil_tests",
    "growers",
    "sightings",
    "keep",
)
RASTER_LAYERS = (
    "sun_h",
    "surface_m",
    "terrain_m",
    "ph",
    "sand_pct",
    "silt_pct",
    "clay_pct",
    "texture",
    "drainage",
    "depth_cm",
    "landcover",
    "zone",
    "salt",
)

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

Month = Annotated[int, Field(ge=1, le=12)]
Share = Annotated[float, Field(ge=0, le=1)]
Positive = Annotated[float, Field(gt=0)]


def known_crs(text: str) -> CRS:
    """Return the CRS of a code, a full definition, or its exact name.

    Raises
    ------
    CRSError, ValueError
        If PROJ does not know it; a name that only resembles one counts as unknown.
    """
    text = text.strip()
    crs = CRS.from_user_input(int(text) if text.isdigit() else text)
    is_name = not re.search(r"[:\[{=+]", text) and not text.isdigit()
    if is_name and _letters(text) not in (_letters(crs.name), _letters(crs.name.split("/")[-1])):
        raise ValueError(f"{text!r} is no name of a CRS; the nearest is {crs.name!r}")
    return crs


def _letters(text: str) -> str:
    return re.sub(r"\W", "", text).casefold()


class Section(BaseModel):
    """Base of all sections: no unknown keys, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True)


class StudyHead(Section):
    """``[study]``: name, date, grid and season."""

    name: str = "Unnamed study"
    date: dt.date | None = None
    crs: str | None = None
    cell_m: Positive = 1.0
    season: tuple[Month, Month] = (4, 10)
    sun_months: tuple[Month, Month] = (5, 8)
    seed: int = 7

    @field_validator("crs")
    @classmethod
    def _projected(cls, value: str | None) -> str | None:
        if value is None:
            return None
        try:
            crs = known_crs(value)
        except (CRSError, ValueError) as error:
            raise ValueError(f"{value!r} is not a coordinate reference system that PROJ knows") from error
        if not crs.is_projected or any(axis.unit_conversion_factor != 1.0 for axis in crs.axis_info[:2]):
            raise ValueError(f"{value!r} must be projected, in metres; leave it out to have one chosen")
        if crs.to_epsg() == 3857:
            raise ValueError(
                "Web Mercator stretches lengths (1.3 times at 40 degrees); leave crs out to have one chosen"
            )
        return value

    @model_validator(mode="after")
    def _ordered(self) -> StudyHead:
        for key in ("season", "sun_months"):
            first, last = getattr(self, key)
            if first > last:
                raise ValueError(
                    f"{key} must run from an earlier to a later month of one year, not {[first, last]}"
                )
        return self


class VectorSource(Section):
    """``[layers.NAME]``: where a vector layer or table is, and how to read it."""

    path: str
    layer: str | None = None
    crs: str | None = None
    encoding: str | None = None
    geometry: str | None = None
    x: str | None = None
    y: str | None = None
    columns: dict[str, str] = Field(default_factory=dict)
    where: str | None = None


class RasterSource(Section):
    """``[rasters.NAME]``: where a raster is, and how to read it."""

    path: str
    band: Annotated[int, Field(ge=1)] | None = None
    crs: str | None = None
    scale: float | None = None
    offset: float | None = None
    nodata: float | None = None
    kind: Literal["continuous", "class"] | None = None
    classes: str | dict[str, str] | None = None
    error: float | dict[str, float] | None = None  # see suitability/uncertainty.py


class KnowledgeSettings(Section):
    """``[knowledge]``: the region, and own tables laid over the shipped ones (CSV, same columns)."""

    region: str = "ohio-valley-mid-atlantic"
    plants: str | None = None
    butterflies: str | None = None
    hosts: str | None = None
    synonyms: str | None = None
    lookalikes: str | None = None
    practice: str | None = None
    stages: str | None = None  # what eggs and caterpillars look like
    brood_needs: str | None = None  # how many plants feed a brood
    cautions: str | None = None
    sources: str | None = None


class SiteSettings(Section):
    """``[site]``: light through leafless crowns, setbacks, coarseness of what is measured."""

    leafless_light: Share = 0.5  # share of direct light through bare crowns; common practice 0.4-0.7
    leaf_on: tuple[Month, Month] = (5, 10)  # months with leaves on deciduous trees; common practice
    steep_deg: Annotated[float, Field(gt=0, le=90)] = 25.0  # steeper ground is not planted; judgement
    # "<what>.<growth form>" = metres
    setbacks: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)
    storey_m: Positive = 3.0  # height of a storey, where a building has no height_m; common practice
    building_height_m: Positive = 6.0  # of buildings with neither height nor storeys; judgement
    tree_height_m: Positive = 8.0  # of trees without height_m; judgement
    tree_crown_share: Positive = 0.6  # crown width as a share of height, for trees without crown_m; judgement
    observed_reach_m: Positive = 30.0  # how far counted sun hours correct their surroundings; judgement
    organic_matter_pct: Annotated[float, Field(ge=0, le=8)] = 2.5  # for the soil's water; SAXTON table 3


class SuitabilitySettings(Section):
    """``[suitability]``: how needs combine into a score, and what the classes mean."""

    combine: Literal["scarcest", "geometric", "square_root"] = "scarcest"
    weights: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)
    class_limits: tuple[Share, Share, Share] = (0.75, 0.5, 0.25)  # lower limits of S1, S2, S3
    plants: dict[str, dict[str, float | str]] = Field(default_factory=dict)  # overrides per plant
    rasters: list[str] = Field(default_factory=list)  # plants whose fit is written as a raster
    draws: Annotated[int, Field(ge=0, le=10_000)] = 0  # draws of the rasters' error; 0 = not asked
    confidence: Share | None = None  # a plan may ask that the class holds with this chance


class PlantingSettings(Section):
    """``[planting]``: effort, money, wishes, heights and hazards."""

    effort: Literal["quick", "proven"] = "quick"
    plants: list[str] = Field(default_factory=list)  # empty: all in the tables
    exclude: list[str] = Field(default_factory=list)
    # butterflies; empty: those with a local record; without any, widespread ones, "if they live near you"
    wishes: list[str] = Field(default_factory=list)
    budget: Annotated[float, Field(ge=0)] = 250.0  # money per yard where the participant gives none
    currency: Annotated[str, Field(max_length=20)] = ""  # as prices and budgets are in: a word or a sign
    total_budget: Annotated[float, Field(ge=0)] | None = None  # for the whole group
    prices: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)  # seed, plug, pot, ...
    max_height_m: Positive | None = None
    front_max_height_m: Positive | None = None  # of what stands in the front third of a bed
    back_max_height_m: Positive | None = None  # of what stands in a bed at all
    avoid_hazards: list[str] = Field(default_factory=list)  # for every yard, beside what participants say
    allow_spreading: bool = False
    allow_falling_class: bool = False
    max_species_share: Annotated[float, Field(gt=0, le=1)] = 0.4
    clump_min: Annotated[int, Field(ge=1)] = 3
    bed_share_max: Annotated[float, Field(gt=0, le=1)] = 0.25  # of a yard's open ground; judgement
    year: Annotated[int, Field(ge=1, le=50)] = 5  # plan year in which crowns and leaf are counted
    enough_m2: Positive = 20.0  # leaf beyond this adds nothing for one butterfly in one yard; judgement
    nectar_reach_m: Positive = 50.0
    gap: Annotated[float, Field(ge=0, lt=1)] = 0.01  # effort "proven" stops here
    node_limit: Annotated[int, Field(ge=1)] = 2000
    phases: list[Annotated[float, Field(ge=0)]] = Field(default_factory=list)  # share of money by year


class ConnectivitySettings(Section):
    """``[connectivity]``: butterflies, reach, hops, and whom to invite."""

    butterflies: list[str] = Field(default_factory=list)  # empty: the wishes
    weights: dict[str, Annotated[float, Field(ge=0)]] = Field(default_factory=dict)
    median_m: dict[str, Positive] = Field(default_factory=dict)  # overrides the table's median movement
    mean_m: dict[str, Positive] = Field(default_factory=dict)  # the same, stated as a mean
    five_percent_m: dict[str, Positive] = Field(default_factory=dict)  # the same: what 5 % exceed
    hop_max_m: dict[str, Positive] = Field(default_factory=dict)
    kernel: Literal["exponential", "fat_tailed"] = "exponential"
    distance: Literal["straight", "by ground"] = "straight"
    crossing_costs: str | None = None  # own table for distance = "by ground"
    ground_cell_m: Positive = 2.0  # cells of the crossing costs; judgement: gaps between houses stay open
    cut: Annotated[float, Field(gt=0, lt=0.1)] = 1e-4  # passages below this are neglected, and bounded
    anchor_host_share: Share = 0.1  # judgement
    invite: Annotated[int, Field(ge=0)] = 10
    invite_budget: Annotated[float, Field(ge=0)] | None = None  # both limits hold where both are given
    rank_draws: Annotated[int, Field(ge=0, le=1000)] = 10  # draws of reach and habitat to try the list on
    rounds: Annotated[int, Field(ge=1, le=3)] = 2


class ReportSettings(Section):
    """``[report]``: for whom, in which units, on which paper."""

    audience: Literal["group", "public"] = "group"
    units: Literal["metric", "us"] = "metric"
    paper: Literal["letter", "a4"] = "letter"
    formats: list[Literal["geojson", "dxf", "svg"]] = Field(default_factory=list)
    dpi: Literal[150, 300] = 150


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
        _check_names(value, RASTER_LAYERS, "rasters")
        return value


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
        return self.folder / os.path.expandvars(path) if not Path(path).is_absolute() else Path(path)

    def changed(self, **sections: dict[str, Any]) -> Study:
        """Return a copy with some keys of some sections changed, checked again.

        Examples
        --------
        >>> study = Study(layers={"yards": {"path": "yards.gpkg"}})
        >>> study.changed(planting={"effort": "proven"}).planting.effort
        'proven'
        """
        data = self.model_dump()
        for section, keys in sections.items():
            data[section] = {**data[section], **keys}
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


def read_study(path: str | Path) -> Study:
    """Read a study file and check it.

    Parameters
    ----------
    path
        A TOML file as the README describes it.

    Raises
    ------
    MissingFileError
        If the file, or a layer or raster that it names, is not there.
    StudyError
        If it is not TOML, or a key is unknown, missing or out of range.

    Examples
    --------
    >>> import habitat
    >>> study = habitat.read_study("sample_geodata")  # a study file, or the folder that holds study.toml
    >>> study.study.crs, study.layers["yards"].layer
    ('EPSG:32617', 'yards')
    >>> study.changed(planting={"budget": 100}).planting.budget
    100.0
    """
    study, faults = open_study(path)
    if faults:
        raise together(list(faults.values()))
    return study


def open_study(path: str | Path) -> tuple[Study, dict[str, HabitatError]]:
    """Read a study file, and tell of each layer, raster or table whose file cannot be meant or is not there.

    Returns
    -------
    The study, and the error of each such key ("layers.plants").

    Raises
    ------
    MissingFileError, StudyError
        If the study file itself cannot be read.
    """
    path = Path(path)
    if path.is_dir():
        path = path / "study.toml"
    if not path.is_file():
        raise MissingFileError(
            "there is no such study file", str(path), "Check the path, or make one with 'habitat new FOLDER'"
        )
    try:
        data = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise StudyError(
            "it is not a text file in UTF-8, which study files are in", str(path), "Save it again as UTF-8"
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise StudyError(f"not a valid TOML file ({error})", str(path), _toml_hint(str(error))) from None
    study = parse_study(data, path)
    return study, file_faults(study)


def _toml_hint(said: str) -> str:
    if "\\" in said:
        return "Mend that line; in paths write / for \\"
    return "Mend that line; text must be in straight quotes"

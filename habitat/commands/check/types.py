"""What ``habitat check --json`` prints, key by key: plain values, ready for JSON."""

from __future__ import annotations

from typing import Any, NotRequired, TypedDict


class NoteRecord(TypedDict):
    """Something to know: its row (None for the layer), words, and harm, 0 for the record, 3 likely wrong."""

    row: int | None
    what: str
    harm: int


class ErrorRecord(TypedDict):
    """An error: its kind and message; ``part`` says of which layer or file where errors stand one by one."""

    kind: str
    message: str
    part: NotRequired[str]


class RowRecord(TypedDict):
    """A row that was read, with what it holds; degrees east and north if it is a point."""

    row: int
    yard_id: str | None
    attributes: dict[str, Any]
    lon: NotRequired[float | None]
    lat: NotRequired[float | None]


class SetAsideRecord(TypedDict):
    """A row that could not be used, and why; ``attributes`` is JSON text."""

    row: int
    reason: str
    attributes: str


class LayerRecord(TypedDict):
    """A layer: rows in = used + repaired + set aside; areas in square metres."""

    rows_in: int
    used: int
    repaired: int
    set_aside: int
    crs: str | None
    encoding: str | None
    geometry_types: list[str]
    area_m2: float | None
    notes: list[NoteRecord]
    rows: list[RowRecord]
    set_aside_rows: list[SetAsideRecord]


class UnmatchedRecord(TypedDict):
    """A row of a table that found no yard."""

    row: int
    what: str


class TableRecord(TypedDict):
    """A table: how many rows found their yard, and those that did not."""

    matched: int
    unmatched: int
    unmatched_rows: list[UnmatchedRecord]


class YardRecord(TypedDict):
    """A yard [m2]."""

    yard_id: str
    area_m2: float
    overlap_m2: float
    role: str


class PlantRecord(TypedDict):
    """Plants that stand somewhere [degrees]."""

    row: int
    plant: str | None
    count: float
    yard_id: str | None
    lon: float | None
    lat: float | None


class KnownRecord(TypedDict):
    """What a raster says of a yard: how much is known (0-1); a mean, or shares by class."""

    yard_id: str
    known_share: float
    mean: NotRequired[float | None]
    shares: NotRequired[dict[str, float]]


class RasterRecord(TypedDict):
    """A raster, as it was read, and what it holds by yard."""

    crs: str | None
    cell_m: float
    kind: str
    band: int
    scale: float
    offset: float
    nodata: list[float | None]
    classes: dict[str, str] | None
    notes: list[NoteRecord]
    yards: list[KnownRecord]


class GridRecord(TypedDict):
    """The grid of all rasters, and the memory that one takes."""

    rows: int
    cols: int
    cell_m: float
    memory_mb: float


class Description(TypedDict):
    """What was read."""

    crs: str | None
    grid: GridRecord | None
    units: str
    notes: list[NoteRecord]
    layers: dict[str, LayerRecord]
    yards: list[YardRecord]
    ground_area_m2: float | None
    overlap_m2: float | None
    plants: list[PlantRecord]
    tables: dict[str, TableRecord]
    rasters: dict[str, RasterRecord]


class Account(Description):
    """What was read, with the exit code (0 done, 1 a row was set aside, 2 cannot go on), and all errors.

    next : what to bring next, "" for nothing.
    """

    exit: int
    error: ErrorRecord | None
    errors: list[ErrorRecord]
    next: str

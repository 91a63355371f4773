"""The settings reference: every key of a study file with its kind, unit, default, example and meaning."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Iterator
from types import NoneType
from typing import Any, Literal, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt, MaxLen
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from habitat.settings.base import Section
from habitat.settings.groups import GroupSettings
from habitat.settings.layers import VECTOR_LAYERS, RasterSource, VectorSource, raster_layers
from habitat.study.model import StudyModel

WIDTH = 110
HEAD = """\
Every key that study.toml may hold. Only [layers.yards] with its path is needed; what is left out keeps its
default. A key that is not listed here is refused, with the nearest one that is.
"""
WORDS = {float: "number", int: "whole number", str: "text", bool: "true or false", dt.date: "date"}
BOUNDS = {Ge: ("ge", "{:g} or more"), Gt: ("gt", "more than {:g}"), Le: ("le", "{:g} or less"),
          Lt: ("lt", "less than {:g}"), MaxLen: ("max_length", "at most {:g} letters")}  # fmt: skip


def settings_reference() -> str:
    """Return the text of the reference, made from the models that a study file is read into.

    Examples
    --------
    >>> text = settings_reference()
    >>> [line for line in text.splitlines() if line.startswith("  cell_m")]
    ['  cell_m = 1.0   number, more than 0 [m]']
    """
    parts = [HEAD]
    for title, section, about in sections():
        doc = (section.__doc__ or "").split(": ", 1)[-1].strip()
        parts.append(_wrapped(f"[{title}]  {doc}", "    ", ""))
        if about:
            parts.append(_wrapped(about, "    "))
        parts += ["", *(_entry(key, field) for key, field in section.model_fields.items())]
    return "\n".join(parts)


def sections() -> Iterator[tuple[str, type[Section], str]]:
    """Yield the heading of each section of a study file, its model, and which names may stand for NAME."""
    for key, field in StudyModel.model_fields.items():
        if key == "layers":
            yield "layers.NAME", VectorSource, f"NAME: {', '.join(VECTOR_LAYERS)}."
        elif key == "rasters":
            yield "rasters.NAME", RasterSource, f"NAME: {', '.join(raster_layers())}."
        elif key == "groups":
            yield "groups.NAME", GroupSettings, "NAME: as it stands in the column group of the sign-up sheet."
        else:
            assert isinstance(field.annotation, type)
            assert issubclass(field.annotation, Section)
            yield key, field.annotation, ""


def unit_of(field: FieldInfo) -> str:
    """Return the unit of a key, "" if it is no quantity."""
    extra = field.json_schema_extra
    return str(extra["unit"]) if isinstance(extra, dict) and "unit" in extra else ""


def _entry(key: str, field: FieldInfo) -> str:
    unit, value = unit_of(field), _default(field)
    kind = kind_words(field.annotation, tuple(field.metadata)) + (f" [{unit}]" if unit else "")
    example = toml_value((field.examples or [None])[0])
    lines = [_wrapped(f"{key}{value}   {kind}", " " * 8, "  ")]
    lines.append(_wrapped(field.description or "", " " * 6))
    return "\n".join([*lines, f"      For example: {key} = {example}", ""])


def _default(field: FieldInfo) -> str:
    if field.default is PydanticUndefined:
        return " (must be stated)"
    return " (left out)" if field.default is None else f" = {toml_value(field.default)}"


def _wrapped(text: str, indent: str, first: str | None = None) -> str:
    start = indent if first is None else first
    return textwrap.fill(text, WIDTH, initial_indent=start, subsequent_indent=indent, break_on_hyphens=False)


def kind_words(annotation: Any, limits: tuple[Any, ...] = ()) -> str:
    """Return what may stand for a key, in words.

    Examples
    --------
    >>> kind_words(list[str]), kind_words(dict[str, float]), kind_words(Literal["quick", "proven"])
    ('list of text', 'table of number', 'quick or proven')
    """
    origin, inner = get_origin(annotation), get_args(annotation)
    bounds = _bounds(limits)
    if hasattr(annotation, "__metadata__"):
        flat = [part for one in annotation.__metadata__ for part in getattr(one, "metadata", [one])]
        return kind_words(inner[0], (*flat, *limits))
    if annotation in WORDS:
        return WORDS[annotation] + (f", {bounds}" if bounds else "")
    if origin is Literal:
        return " or ".join(map(str, inner))
    if origin is list:
        return f"list of {kind_words(inner[0])}"
    if origin is tuple:
        return f"list of {len(inner)}, each {kind_words(inner[0])}"
    if origin is dict:
        return f"table of {kind_words(inner[1])}"
    return " or ".join(kind_words(one, limits) for one in inner if one is not NoneType)


def _bounds(limits: tuple[Any, ...]) -> str:
    return ", ".join(
        words.format(getattr(limit, name))
        for limit in limits
        for kind, (name, words) in BOUNDS.items()
        if isinstance(limit, kind)
    )


def toml_value(value: Any) -> str:
    """Return a value as a study file writes it.

    Examples
    --------
    >>> toml_value({"plug": 3.5}), toml_value((4, 10)), toml_value(True), toml_value("group")
    ('{ "plug" = 3.5 }', '[4, 10]', 'true', '"group"')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(toml_value, value))}]"
    if isinstance(value, dict):
        pairs = ", ".join(f"{toml_value(str(k))} = {toml_value(v)}" for k, v in value.items())
        return f"{{ {pairs} }}" if pairs else "{}"
    return str(value)

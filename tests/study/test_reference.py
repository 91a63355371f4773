"""The settings reference: every key explained, with a unit if it is a quantity and an example that reads."""

import tomllib
from types import NoneType
from typing import get_args, get_origin

import pytest

from habitat.study.model import parse_study
from habitat.study.reference import kind_words, sections, settings_reference, toml_value, unit_of

KEYS = [
    (title, key, field) for title, section, _ in sections() for key, field in section.model_fields.items()
]
IDS = [f"{title}.{key}" for title, key, _ in KEYS]
YARDS = {"yards": {"path": "yards.gpkg"}}


def numbers_in(annotation):
    """Return whether an annotation holds a number anywhere but in a key of a table."""
    if hasattr(annotation, "__metadata__"):
        return numbers_in(get_args(annotation)[0])
    if annotation in (int, float):
        return True
    inner = [one for one in get_args(annotation) if one is not NoneType]
    return any(numbers_in(one) for one in (inner[1:] if get_origin(annotation) is dict else inner))


@pytest.mark.parametrize(("title", "key", "field"), KEYS, ids=IDS)
def test_every_key_is_explained(title, key, field):
    assert field.description
    assert field.description.endswith(".")
    assert field.examples
    if numbers_in(field.annotation):
        assert unit_of(field), f"{title}.{key} is a quantity without a unit"


@pytest.mark.parametrize(("title", "key", "field"), KEYS, ids=IDS)
def test_every_example_reads_and_says_something_else_than_the_default(title, key, field, tmp_path):
    text = f"{key} = {toml_value(field.examples[0])}"
    value = tomllib.loads(text)
    name = title.removesuffix(".NAME")
    if name == "layers":
        data = {"layers": {"yards": {"path": "y.gpkg"} | value}}
    elif name == "groups":
        data = {"layers": YARDS, "groups": {"North": value}}
    elif name == "rasters":
        data = {"layers": YARDS, "rasters": {"ph": {"path": "ph.tif"} | value}}
    else:
        data = {"layers": YARDS, name: value}
    study = parse_study(data, tmp_path / "study.toml")
    section = {
        "layers": study.layers.get("yards"),
        "rasters": study.rasters.get("ph"),
        "groups": study.groups.get("North"),
    }.get(name)
    assert getattr(section or getattr(study, name), key) != field.default


def test_the_reference_names_every_section_key_unit_and_default_once():
    text = settings_reference()
    for title, key, field in KEYS:
        part = text.split(f"\n[{title}]")[1].split("\n[")[0]
        assert part.count(f"\n  {key} ") == 1
        if unit_of(field):
            assert f"[{unit_of(field)}]" in " ".join(part.split())
    assert "budget = 250.0   number, 0 or more [money per yard]" in text
    assert max(map(len, text.splitlines())) <= 110


def test_kinds_are_told_with_their_bounds():
    told = {
        f"{title}.{key}": kind_words(field.annotation, tuple(field.metadata)) for title, key, field in KEYS
    }
    assert told["study.season"] == "list of 2, each whole number, 1 or more, 12 or less"
    assert told["planting.effort"] == "quick or proven"
    assert told["rasters.NAME.error"] == "number or table of number"
    assert told["connectivity.cut"] == "number, more than 0, less than 0.1"

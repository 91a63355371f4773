"""``habitat demo``: the same files as the sample study, also where only the package is installed."""

import tomllib
from pathlib import Path

import pytest

import habitat
from habitat.commands.demo import demo_folder
from habitat.errors import HabitatError
from habitat.study.files import study_files
from tests.commands.calls import call

ROOT = Path(habitat.__file__).parents[1]


def test_the_demo_is_the_sample_study_byte_for_byte(tmp_path):
    said = call("demo", str(tmp_path / "our town"))
    made = {p.name: p.read_bytes() for p in (tmp_path / "our town").iterdir()}
    files = study_files(habitat.read_study(demo_folder()))
    assert made == {name: file.read_bytes() for name, file in files.items()}
    assert {"study.toml", "town.gpkg", "participants.csv", "surface_m.tif"} <= set(made)
    assert f"habitat check '{tmp_path}/our town'" in said
    assert habitat.read_study(tmp_path / "our town").study.name == "Quillwater pollinator corridor"


def test_a_folder_that_holds_anything_is_left_alone(tmp_path):
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(HabitatError, match="not empty"):
        call("demo", str(tmp_path))
    assert [p.name for p in tmp_path.iterdir()] == ["notes.txt"]


def test_a_wheel_holds_every_file_of_the_demo():
    """What pyproject.toml puts into a wheel is what the demo's study names, from its only copy."""
    if not (ROOT / "pyproject.toml").is_file():
        pytest.skip("installed without its checkout")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    shipped = project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    named = study_files(habitat.read_study(ROOT / "sample_geodata"))
    assert shipped == {f"sample_geodata/{name}": f"habitat/sample_geodata/{name}" for name in named}
    assert not (ROOT / "habitat" / "sample_geodata").exists()

"""The folder that habitat new makes."""

import json
import re
import tomllib

import pytest

from habitat.errors import HabitatError
from tests.commands.calls import call


def test_new_makes_a_folder_that_reads(tmp_path):
    folder = tmp_path / "street"
    call("new", str(folder))
    assert (folder / "study.toml").is_file()
    assert (folder / "participants.csv").is_file()
    with pytest.raises(HabitatError, match="not empty"):
        call("new", str(folder))
    result = json.loads(call("check", str(folder), "--json", code=2))
    assert "yards.gpkg" in result["error"]["message"]


@pytest.mark.parametrize("currency", ["€", "kroner", 'a "b" \\'])
def test_the_currency_is_written_where_the_study_reads_it(tmp_path, currency):
    folder = tmp_path / "street"
    call("new", str(folder), "--currency", currency)
    text = (folder / "study.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["planting"]["currency"] == currency
    call("new", str(tmp_path / "other"))
    other = (tmp_path / "other" / "study.toml").read_text(encoding="utf-8")
    assert "currency" not in tomllib.loads(other)["planting"]


@pytest.mark.parametrize("kind", [(), ("--yard",)])
def test_a_new_folder_names_its_own_files(tmp_path, kind):
    """Whatever READ_ME.txt and the study file name is there, and every table can be switched on as it is."""
    folder = tmp_path / "made"
    call("new", str(folder), *kind, "--quiet")
    words = (folder / "READ_ME.txt").read_text(encoding="utf-8")
    tables = set(re.findall(r"\b[a-z_]+\.csv\b", words))
    assert {name for name in tables if not (folder / name).is_file()} == set()
    text = (folder / "study.toml").read_text(encoding="utf-8")
    there = {p.stem for p in folder.glob("*.csv")} - {"tape"}
    for layer in there:
        assert f"[layers.{layer}]" in text
        assert f'path = "{layer}.csv"' in text
    switched = re.sub(r"(?m)^# (\[layers\..*)\n((?:#  .*\n)*)# (path = .*)$", r"\1\n\2\3", text)
    assert there < set(tomllib.loads(switched)["layers"])


def test_a_missing_file_names_those_that_are_there(tmp_path):
    (tmp_path / "study.toml").write_text('[layers.yards]\npath = "yards.gpkg"\n', encoding="utf-8")
    (tmp_path / "Parcels_2026.zip").write_bytes(b"")
    error = json.loads(call("check", str(tmp_path), "--json", code=2))["error"]
    assert "Parcels_2026.zip" in error["message"]

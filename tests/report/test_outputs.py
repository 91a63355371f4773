"""The list of outputs: every file that a run writes is in it, and one more takes one entry."""

from dataclasses import replace

import pytest

from habitat.report import outputs
from habitat.report.outputs import OUTPUTS, Output, outputs_for, write_files
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"), report={"formats": ["geojson", "dxf"]})


def silent(*_):
    """Tell nobody."""


def test_formats_are_written_on_request_only(plan, tmp_path):
    asked = {output.name: output for output in outputs_for(plan)}
    for name in ("geojson/", "plan.dxf"):
        asked[name].write(plan, tmp_path / name)
    assert {p.name for p in tmp_path.iterdir()} == {"geojson", "plan.dxf"}
    none = replace(plan, study=plan.study.changed(report={"formats": []}))
    assert set(asked) - {o.name for o in outputs_for(none)} == {"geojson/", "plan.dxf"}


def test_a_hand_over_is_for_the_group_alone_and_on_request(plan, tmp_path):
    asked = replace(plan, study=plan.study.changed(report={"formats": ["handover"]}))
    assert "handover/" in {o.name for o in outputs_for(asked)}
    assert "handover/" not in {o.name for o in outputs_for(plan)}
    public = plan.study.changed(report={"formats": ["handover"], "audience": "public"})
    assert "handover/" not in {o.name for o in outputs_for(replace(plan, study=public))}


def test_one_more_output_takes_one_entry(plan, tmp_path, monkeypatch):
    """A table by street, as somebody might add it: it is written, and READ_ME.txt tells of it."""

    def write_streets(given, path):
        assert given is plan
        path.write_text("street,yards\r\n", encoding="utf-8")

    streets = Output("lists/streets.csv", "plants by street, to be carried round", write_streets)
    secret = replace(streets, name="group.csv", audience=("public",))
    monkeypatch.setattr(outputs, "OUTPUTS", (streets, secret))
    write_files(plan, tmp_path, 1, silent)
    assert sorted(p.name for p in tmp_path.rglob("*") if p.is_file()) == ["READ_ME.txt", "streets.csv"]
    assert "lists/streets.csv  plants by street" in (tmp_path / "READ_ME.txt").read_text(encoding="utf-8")


def test_what_jobs_make_comes_back_in_order_to_its_output(plan, tmp_path, monkeypatch):
    def jobs(_shared, folder):
        return [lambda shared, n=n: [folder / f"{shared.plan.study.study.name}-{n}"] for n in range(3)]

    ended = []
    entry = Output("x/", "x", jobs=jobs, finish=lambda _plan, folder, files: ended.append((folder, files)))
    monkeypatch.setattr(outputs, "OUTPUTS", (entry, replace(entry, name="y/")))
    write_files(plan, tmp_path, 1, silent)
    name = plan.study.study.name
    assert ended == [
        (tmp_path / part, [tmp_path / part / f"{name}-{n}" for n in range(3)]) for part in ("x", "y")
    ]


def test_each_name_stands_once():
    names = [output.name for output in OUTPUTS]
    assert len(set(names)) == len(names)

"""The whole folder, written by every writer: names, links, what READ_ME tells, equal bytes, odd names."""

import json
import re

import pytest

from tests.report.small_plan import small_plan
from tests.report.test_page import ODD_NAMES


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Give the results of a plan whose yards have names that would like to break something."""
    home = tmp_path_factory.mktemp("folder")
    plan = small_plan(home / "study", yard_ids=ODD_NAMES, report={"formats": ["geojson", "dxf"]})
    return plan.write(home / "plan"), plan


def files(folder):
    return {str(p.relative_to(folder)): p for p in sorted(folder.rglob("*")) if p.is_file()}


def test_the_contract_is_there(folder):
    out, _ = folder
    names = set(files(out))
    assert {
        "plan.gpkg", "run.json", "timings.json", "page.html", "shopping.csv", "calendar.ics", "READ_ME.txt",
        "sheets/all-yards.pdf", "rasters/sun_h.tif", "plan.dxf", "geojson/yards.geojson",
    } <= names  # fmt: skip
    assert all(p.stat().st_size for p in files(out).values())


def test_no_name_on_disk_is_odd(folder):
    out, _ = folder
    for name in files(out):
        assert re.fullmatch(r"[A-Za-z0-9_.\-/]+", name), name
        assert len(name) < 100
    assert len(list((out / "sheets").glob("yard-*.pdf"))) == 6
    assert not (out.parent / "x").exists()


def test_every_sheet_of_the_page_is_there(folder):
    out, _ = folder
    text = (out / "page.html").read_text(encoding="utf-8")
    data = json.loads(re.search(r'id="plan-data">(.*?)</script>', text, re.DOTALL)[1])
    linked = {y["sheet"] for y in data["yards"] if "sheet" in y}
    assert linked == {f"sheets/{p.name}" for p in (out / "sheets").glob("yard-*.pdf")}


def test_read_me_tells_of_every_file(folder):
    out, _ = folder
    text = (out / "READ_ME.txt").read_text(encoding="utf-8")
    for path in out.iterdir():
        name = f"{path.name}/" if path.is_dir() else path.name
        assert name == "READ_ME.txt" or re.search(rf"^{re.escape(name)} ", text, re.MULTILINE), name


def test_no_place_of_work_stands_in_any_file(folder):
    out, plan = folder
    home = str(plan.study.folder).encode()
    for name, path in files(out).items():
        assert home not in path.read_bytes(), name


def test_equal_plans_give_equal_bytes(folder, tmp_path):
    out, plan = folder
    again = plan.write(tmp_path / "again")
    one, two = files(out), files(again)
    assert set(one) == set(two)
    differ = [n for n in one if n != "timings.json" and one[n].read_bytes() != two[n].read_bytes()]
    assert differ == []

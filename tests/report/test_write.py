"""Writing a plan, whole or not at all; then the folder: names, links, equal bytes, odd names."""

import csv
import errno
import json
import re
import sqlite3

import geopandas as gpd
import pypdf
import pytest
from pyogrio.errors import DataSourceError

from habitat.errors import OutputError
from habitat.report import write as writing
from habitat.report.outputs import OUTPUTS
from habitat.report.package.read_me import write_read_me
from habitat.report.words.text import file_names
from habitat.report.write import write_plan
from tests.report.page.test_page import ODD_NAMES
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    folder = tmp_path_factory.mktemp("study")
    return small_plan(folder, suitability={"rasters": ["swamp milkweed", "Zizia aurea"]})


TOLD = [(output.name, output.words) for output in OUTPUTS]


def quick_files(text="new"):
    def write(plan, work, workers, tell):
        (work / "run.json").write_text(text, encoding="utf-8")
        write_read_me(plan, work, TOLD)

    return write


def failing_files(plan, work, workers, tell):
    (work / "run.json").write_text("half", encoding="utf-8")
    raise RuntimeError("power cut")


def test_a_run_is_written_beside_and_moved(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files())
    told = []
    out = write_plan(plan, tmp_path / "deep" / "plan", progress=lambda *a: told.append(a))
    assert out == tmp_path / "deep" / "plan"
    assert {p.name for p in out.iterdir()} == {"run.json", "READ_ME.txt", "timings.json", "files.json"}
    assert [p.name for p in out.parent.iterdir()] == ["plan"]
    assert told == [("results written", 1, 1)]
    assert json.loads((out / "timings.json").read_text())["report"]["seconds"] >= 0


def test_nothing_is_replaced_unasked(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files("old"))
    out = write_plan(plan, tmp_path / "plan")
    monkeypatch.setattr(writing, "write_files", quick_files("new"))
    with pytest.raises(OutputError, match="--replace"):
        write_plan(plan, out)
    assert (out / "run.json").read_text() == "old"
    write_plan(plan, out, replace=True)
    assert (out / "run.json").read_text() == "new"
    assert [p.name for p in tmp_path.iterdir()] == ["plan"]


def test_a_dying_run_leaves_the_last_good_one(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files("good"))
    out = write_plan(plan, tmp_path / "plan")
    monkeypatch.setattr(writing, "write_files", failing_files)
    with pytest.raises(RuntimeError, match="power cut"):
        write_plan(plan, out, replace=True)
    assert (out / "run.json").read_text() == "good"
    assert [p.name for p in tmp_path.iterdir()] == ["plan"]


def test_leftovers_of_a_run_that_died_are_cleared(plan, tmp_path, monkeypatch):
    """A killed run cannot clear up after itself; the next one does, and puts the last good one back."""
    monkeypatch.setattr(writing, "write_files", quick_files("last good"))
    write_plan(plan, tmp_path / "plan").rename(tmp_path / ".plan.replaced")
    monkeypatch.setattr(writing, "write_files", quick_files("new"))
    (tmp_path / ".plan.writing").mkdir()
    (tmp_path / ".plan.writing" / writing.MARK).touch()
    (tmp_path / ".plan.writing" / "half.csv").write_text("half", encoding="utf-8")
    with pytest.raises(OutputError, match="already"):
        write_plan(plan, tmp_path / "plan")
    assert (tmp_path / "plan" / "run.json").read_text() == "last good"
    write_plan(plan, tmp_path / "plan", replace=True)
    assert [p.name for p in tmp_path.iterdir()] == ["plan"]


def test_somebody_s_own_folder_is_never_replaced(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files())
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "wedding.jpg").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="something other than results"):
        write_plan(plan, tmp_path / "photos", replace=True)
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="a file of this name"):
        write_plan(plan, tmp_path / "file", replace=True)
    assert (tmp_path / "photos" / "wedding.jpg").exists()


def test_a_place_that_cannot_be_written_is_an_output_error(plan, tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "write_files", quick_files())
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match="cannot be written"):
        write_plan(plan, tmp_path / "file" / "plan")


FULL = (
    OSError(errno.ENOSPC, "No space left on device"),
    OSError(errno.EFBIG, "File too large"),
    sqlite3.OperationalError("database or disk is full"),
    DataSourceError("Failed to commit transaction"),
)


@pytest.mark.parametrize("error", FULL, ids=repr)
def test_a_full_disk_is_one_sentence_and_leaves_what_was_there(plan, tmp_path, monkeypatch, error):
    """Each library says it in its own way: the system, SQLite, the vector library."""
    monkeypatch.setattr(writing, "write_files", quick_files("good"))
    out = write_plan(plan, tmp_path / "plan")
    before = {p: p.read_bytes() for p in files(out).values()}

    def full(plan, folder, *_):
        (folder / "half.csv").write_text("half", encoding="utf-8")
        raise error

    monkeypatch.setattr(writing, "write_files", full)
    with pytest.raises(OutputError, match=r"the results cannot be written \(.*has room"):
        write_plan(plan, out, replace=True)
    assert {p: p.read_bytes() for p in files(out).values()} == before
    assert [p.name for p in tmp_path.iterdir()] == ["plan"]


# The whole folder, written by every writer.


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Give the results of a plan whose yards have names that would like to break something."""
    home = tmp_path_factory.mktemp("folder")
    plan = small_plan(home / "study", yard_ids=ODD_NAMES, report={"formats": ["geojson", "dxf"]})
    return write_plan(plan, home / "plan"), plan


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


def test_sheets_print_odd_names_as_they_are(folder):
    """Markup of the typesetter, of pages and of spreadsheets is text like any other; a long name is cut."""
    out, _ = folder
    names = file_names(ODD_NAMES[:6], "yard-", ".pdf")
    starts = ("<script>alert(1)", "=HYPERLINK(", "#set page(width: 1pt)", "../../x", "gnol", "LLLLLLLL")
    for name, start in zip(ODD_NAMES, starts, strict=False):
        reader = pypdf.PdfReader(out / "sheets" / names[name])
        assert len(reader.pages) == 3
        assert all(page.mediabox.width > 500 for page in reader.pages)
        assert f"Yard {start}" in reader.pages[0].extract_text(), name


def test_tables_keep_odd_names_and_no_cell_is_a_formula(folder):
    out, _ = folder
    for layer in ("yards", "beds", "plantings", "plant_points"):
        read = gpd.read_file(out / "plan.gpkg", layer=layer, ignore_geometry=True)
        assert set(read["yard_id"]) == set(ODD_NAMES if layer == "yards" else ODD_NAMES[:6])
    with (out / "shopping.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert len({len(row) for row in rows}) == 1
    cells = {cell for row in rows for cell in row}
    assert not [c for c in cells if c.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))]
    assert {'\'=HYPERLINK("http://x","y")', "<script>alert(1)</script>", "../../x"} <= cells


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


def test_equal_plans_give_equal_bytes(folder):
    out, plan = folder
    again = write_plan(plan, out.parent / "again")  # as near to the study, which results name by its way
    one, two = files(out), files(again)
    assert set(one) == set(two)
    differ = [n for n in one if n != "timings.json" and one[n].read_bytes() != two[n].read_bytes()]
    assert differ == []

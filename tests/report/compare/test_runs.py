"""Two runs side by side: figures, yards that changed, what they were made from; as lines and as a page."""

import json
import shutil
from dataclasses import replace

import pytest
import shapely
from typer.testing import CliRunner

from habitat.commands.app import app
from habitat.errors import LayerError, MissingFileError, OutputError
from habitat.report.compare.runs import _differences, compare_runs, comparison_lines, write_comparison
from habitat.report.compare.words import comparison_page
from habitat.report.package.geopackage import write_geopackage, write_run_json
from habitat.report.words.numbers import money
from tests.report.browser import browser, violations
from tests.report.small_plan import small_plan


def written(plan, folder):
    folder.mkdir()
    write_geopackage(plan, folder / "plan.gpkg")
    write_run_json(plan, folder / "run.json")
    return folder


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


@pytest.fixture(scope="module")
def before(plan, tmp_path_factory):
    return written(plan, tmp_path_factory.mktemp("runs") / "before")


@pytest.fixture(scope="module")
def after(plan, tmp_path_factory):
    """Give a second run in which four yards changed: plants, place, role, no plan any more."""
    plantings, yards, beds = plan.plantings.copy(), plan.yards.copy(), plan.beds.copy()
    more = plantings["planting_id"] == "0007-1-Monarda fistulosa"
    plantings.loc[more, "count"] += 2
    plantings = plantings[plantings["yard_id"] != "0030"]
    moved = beds["bed_id"] == "0013-2"
    beds.loc[moved, "geometry"] = shapely.affinity.translate(beds.loc[moved, "geometry"].iloc[0], 0.5, 0)
    yards.loc[yards["yard_id"] == "0012", "role"] = "member"
    yards.loc[yards["yard_id"] == "0007", "cost"] += 22.0
    yards.loc[yards["yard_id"] == "0030", ["cost", "life_cycles_closed"]] = 0
    headline = json.loads(json.dumps(plan.headline))
    headline["cost"] += 10.0
    headline["together"]["members"]["broods"] = 97
    headline["butterflies"]["Danaus plexippus"]["members"]["equivalent_area_m2"] = 75.0
    other = replace(
        plan, plantings=plantings, yards=yards, beds=beds, headline=headline,
        study=plan.study.changed(planting={"budget": 300.0}),
    )  # fmt: skip
    other = replace(other, run_info={**plan.run_info, "settings": other.study.model_dump(mode="json")})
    return written(other, tmp_path_factory.mktemp("runs") / "after")


@pytest.fixture(scope="module")
def result(before, after):
    return compare_runs(before, after)


def test_a_run_does_not_differ_from_itself(before):
    result = compare_runs(before, before)
    assert result["yards"] == []
    assert result["yards_unchanged"] == 7
    assert result["settings"] == result["inputs"] == result["versions"] == result["remarks"] == []
    assert result["cost"]["before"] == result["cost"]["after"]
    for pairs in result["together"].values():
        assert all(pair["before"] == pair["after"] is not None for pair in pairs.values())


def test_a_section_that_only_one_run_has_is_told_key_by_key():
    one, two = {"layers": {"soil_tests": None}}, {"layers": {"soil_tests": {"path": "soil.csv"}}}
    assert _differences(one, two) == [{"key": "layers.soil_tests.path", "before": None, "after": "soil.csv"}]


def test_figures_stand_side_by_side(result, plan):
    assert result["together"]["broods"]["members"] == {
        "before": plan.headline["together"]["members"]["broods"],
        "after": 97,
    }
    assert result["cost"]["after"] - result["cost"]["before"] == pytest.approx(10.0)
    rows = {row["butterfly"]: row for row in result["butterflies"]}
    assert rows["Danaus plexippus"]["equivalent_area_m2"]["members"]["after"] == 75.0
    assert rows["Danaus plexippus"]["common_name"] == "monarch"


def test_yards_that_changed_say_how(result):
    changes = {row["yard_id"]: row["change"] for row in result["yards"]}
    assert changes == {
        "0007": "other plants or numbers",
        "0012": "candidate became member",
        "0013": "same plants in other places",
        "0030": "lost its plan; life cycles closed changed",
    }
    assert result["yards_unchanged"] == 3
    rows = {row["yard_id"]: row for row in result["yards"]}
    assert rows["0007"]["count"] == {"before": 35, "after": 37}
    assert rows["0007"]["plants_new"] == rows["0007"]["plants_gone"] == []
    assert "Lindera benzoin" in rows["0030"]["plants_gone"]
    assert rows["0030"]["cost"] == {"before": 147.5, "after": 0.0}


def test_settings_that_differ_are_named(result):
    assert result["settings"] == [{"key": "planting.budget", "before": 250.0, "after": 300.0}]


def test_the_result_is_plain_json(result):
    assert json.loads(json.dumps(result, allow_nan=False)) == json.loads(json.dumps(result))


def test_lines_tell_the_same(result):
    text = "\n".join(comparison_lines(result))
    assert "with the members' plans: 36 -> 97" in text
    assert "0012: candidate became member" in text
    assert "planting.budget: 250.0 -> 300.0" in text
    assert "4 yards changed, 3 did not" in text


def test_swapping_the_runs_swaps_the_sides(before, after, result):
    turned = compare_runs(after, before)
    assert turned["cost"] == {"before": result["cost"]["after"], "after": result["cost"]["before"]}
    changes = {row["yard_id"]: row["change"] for row in turned["yards"]}
    assert changes["0030"] == "got a plan; life cycles closed changed"


def test_yards_in_one_run_only(plan, before, tmp_path):
    fewer = plan.yards[plan.yards["yard_id"] != "0044"]
    other = written(replace(plan, yards=fewer), tmp_path / "fewer")
    assert [r["change"] for r in compare_runs(before, other)["yards"]] == ["only in the first run"]
    assert [r["change"] for r in compare_runs(other, before)["yards"]] == ["new in the second run"]


def test_public_runs_are_compared_without_their_yards(before, tmp_path):
    public = tmp_path / "public"
    shutil.copytree(before, public)
    run = json.loads((public / "run.json").read_text(encoding="utf-8"))
    (public / "run.json").write_text(json.dumps({**run, "audience": "public"}), encoding="utf-8")
    result = compare_runs(before, public)
    assert result["yards"] == []
    assert any("numbers its yards anew" in r for r in result["remarks"])


def test_what_an_earlier_version_did_not_tell_is_not_nothing(plan, before, tmp_path):
    headline = json.loads(json.dumps(plan.headline))
    del headline["cost_of_members"], headline["counts"]["plants_of_members"]
    result = compare_runs(written(replace(plan, headline=headline), tmp_path / "old"), before)
    text, page = "\n".join(comparison_lines(result)), comparison_page(result)
    cost = money(plan.headline["cost_of_members"])
    assert f"of this for members: not told -> {cost}" in text
    assert f"plants of members: not told -> {plan.headline['counts']['plants_of_members']}" in text
    assert page.count("not told") == 2


def test_a_folder_without_results_is_refused(before, tmp_path):
    with pytest.raises(MissingFileError, match=r"run\.json is missing"):
        compare_runs(before, tmp_path)
    broken = tmp_path / "broken"
    shutil.copytree(before, broken)
    (broken / "run.json").write_text("{", encoding="utf-8")
    with pytest.raises(LayerError, match="cannot be read"):
        compare_runs(before, broken)
    (broken / "run.json").write_text("[]", encoding="utf-8")
    with pytest.raises(LayerError, match="does not hold an object"):
        compare_runs(before, broken)
    shutil.copy(before / "run.json", broken / "run.json")
    (broken / "plan.gpkg").write_bytes(b"no package")
    with pytest.raises(LayerError, match="cannot be read"):
        compare_runs(before, broken)


def test_the_page_is_not_replaced_unasked(result, tmp_path):
    page = write_comparison(result, tmp_path / "new" / "changes.html")
    with pytest.raises(OutputError, match="exists already"):
        write_comparison(result, page)
    write_comparison(result, page, replace=True)


def test_odd_text_breaks_nothing(before, tmp_path):
    odd = tmp_path / "odd"
    shutil.copytree(before, odd)
    run = json.loads((odd / "run.json").read_text(encoding="utf-8"))
    run["study"] = "<script>alert(1)</script>"
    run["settings"]["planting"]["exclude"] = ["</td><img src=x>"]
    (odd / "run.json").write_text(json.dumps(run), encoding="utf-8")
    text = write_comparison(compare_runs(before, odd), tmp_path / "odd.html").read_text(encoding="utf-8")
    assert "<script" not in text
    assert "<img" not in text


def test_the_page_in_a_browser(result, tmp_path):
    page = write_comparison(result, tmp_path / "changes.html")
    for width in (360, 1280):
        with browser(tmp_path / f"profile{width}", width, 900, phone=width == 360) as driver:
            driver.get(page.as_uri())
            assert driver.title == "Two runs compared"
            assert [e for e in driver.get_log("browser") if e["level"] == "SEVERE"] == []
            cells = driver.execute_script(
                "return [...document.querySelectorAll('table')].map((t) => [...t.tBodies[0].rows]"
                ".map((r) => [...r.cells].map((c) => c.textContent)))"
            )
            assert ["broods a year that yards feed, with the members' plans", "36", "97"] in cells[2]
            assert [row[0] for row in cells[5]] == ["0007", "0012", "0013", "0030"]
            wide, shown = driver.execute_script(
                "return [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
            )
            assert wide <= shown
            driver.set_script_timeout(180)
            assert violations(driver) == []


def test_the_command_prints_and_writes(before, after, tmp_path):
    page = tmp_path / "changes.html"
    done = CliRunner().invoke(app, ["compare", str(before), str(after), "--page", str(page)])
    assert done.exit_code == 0, done.output
    assert "4 yards changed" in done.output
    assert page.exists()
    done = CliRunner().invoke(app, ["compare", str(before), str(after), "--json"])
    assert json.loads(done.output)["yards_unchanged"] == 3


def test_only_a_page_of_a_comparison_is_replaced(tmp_path, before, after):
    mine, page = tmp_path / "study.toml", tmp_path / "changes.html"
    mine.write_text("<!doctype html> a page of somebody's own", encoding="utf-8")
    result = compare_runs(before, after)
    with pytest.raises(OutputError, match="no page of a comparison"):
        write_comparison(result, mine, replace=True)
    assert mine.read_text(encoding="utf-8").endswith("own")
    write_comparison(result, page)
    write_comparison(result, page, replace=True)

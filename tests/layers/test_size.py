"""Memory follows the ground that yards reach over: a stated bound, and who reaches too far."""

import pytest

from habitat.commands.check.account import check_study
from habitat.layers.size import _two_digits_up, memory_mb
from tests.layers import builders as make
from tests.support.hard_files import CLUMSY


def error(folder, name, size):
    result = check_study(CLUMSY[name][0](folder, size))
    assert result["exit"] == 2
    return result["error"]["message"]


def test_memory_is_cells_times_bytes():
    assert memory_mb((0, 0, 2000, 500), 0.5) == pytest.approx(4_000_000 * 110 / 1e6)


@pytest.mark.parametrize(("value", "up"), [(0.0271, 0.028), (1.0, 1.0), (3.31, 3.4), (33.4, 34)])
def test_the_finest_cell_is_rounded_up(value, up):
    assert _two_digits_up(value) == pytest.approx(up)


def test_one_far_yard_is_named_and_nothing_is_surveyed(tmp_path):
    said = error(tmp_path, "far_member", 8_000)
    assert "8.1 x 8.1 km" in said
    assert "without 'y3', which reach farthest, it would fit" in said
    assert "take cells of 1.4 m" in said


def test_the_outline_of_a_town_is_named_with_its_size(tmp_path):
    assert "without 'y3' (400.0 km2)" in error(tmp_path, "town_boundary", 20_000)


def test_cells_of_a_millimetre_are_refused_with_the_finest_that_fit(tmp_path):
    said = error(tmp_path, "millimetre_cells", 1_000)
    assert "Take cells of 0.028 m" in said
    make.yards().to_file(tmp_path / "yards.gpkg")
    fits = make.study(tmp_path, {"yards": "yards.gpkg"}, head="cell_m = 0.028")
    assert check_study(fits)["error"] is None


def test_a_check_tells_what_a_run_would_take(tmp_path):
    make.yards().to_file(tmp_path / "yards.gpkg")
    result = check_study(make.study(tmp_path, {"yards": "yards.gpkg"}))
    rows, cols = 40 + 100, 95 + 100  # the yards' 95 x 40 m and 50 m of ground around
    assert (result["grid"]["rows"], result["grid"]["cols"]) == (rows, cols)
    assert result["grid"]["memory_mb"] == pytest.approx(rows * cols * 110 / 1e6)


def test_an_outline_around_other_yards_is_told_as_no_yard(tmp_path):
    lots = {f"y{i}": make.box(i * 12, 0, i * 12 + 10, 10) for i in range(12)}
    make.yards({**lots, "town": make.box(-50, -50, 300, 300)}).to_file(tmp_path / "yards.gpkg")
    told = make.notes(check_study(make.study(tmp_path, {"yards": "yards.gpkg"})), "yards")
    assert "town: it lies around 12 other yards: a boundary rather than a yard" in told


def test_a_study_can_raise_the_bound(tmp_path):
    path = CLUMSY["far_member"][0](tmp_path, 8_000)
    path.write_text(path.read_text() + "\n[limits]\nmemory_mb = 8000\n", encoding="utf-8")
    assert check_study(path)["error"] is None

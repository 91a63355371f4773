"""The section: heights and places of plants as the tables have them, at the scale that it tells."""

import pytest
import shapely

from habitat.report.handover.section import EYE_M, PROFILES, figure, habit, main_section, section_drawing
from habitat.report.sheets.facts import FactFinder
from habitat.report.words.numbers import Units
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def facts(tmp_path_factory):
    return FactFinder(small_plan(tmp_path_factory.mktemp("study"))).of("0007")


@pytest.mark.parametrize("name", PROFILES)
def test_a_figure_is_as_tall_and_wide_as_its_plant(name):
    outline, _ = figure(name, 2.0, 1.2)
    west, low, east, top = outline.bounds
    assert (east - west, top) == pytest.approx((1.2, 2.0))
    assert low >= 0
    assert outline.is_valid


def test_low_herbs_are_mounds_and_unknown_forms_are_drawn():
    assert [habit("forb", 0.2), habit("forb", 1.0), habit("shrub", 0.2), habit("x", 1.0)] == [
        "mound", "forb", "shrub", "forb",
    ]  # fmt: skip


@pytest.mark.parametrize("system", ["metric", "us"])
def test_heights_are_to_scale_and_eyes_are_marked(facts, system):
    """Tops of figures over the ground line, in the marks that are printed, are those of the tables."""
    drawn = section_drawing(facts, (390.0, 220.0), Units(system))
    scale = drawn["ground"]
    ground = next(m for m in drawn["marks"] if m["look"] == "ground-line")["points"][0][1]
    eye = next(m for m in drawn["marks"] if m["look"] == "eye")["points"]
    assert (ground - eye[0][1]) * scale / 1000 == pytest.approx(EYE_M, abs=0.002)
    figures = [m for m in drawn["marks"] if m["look"].startswith("habit")]
    tops = sorted((ground - min(y for _, y in m["rings"][0])) * scale / 1000 for m in figures)
    cut = main_section(facts)
    mine = [p for p in facts.rows["plant_points"] if p.bed_id == cut.bed.bed_id]
    seen = [p for p in mine if cut.place(p.geometry)[1] >= -p.crown_m / 2]
    assert len(seen) >= len(mine) / 2
    assert tops == pytest.approx(sorted(p.height_m for p in seen), abs=0.002 * scale / 20)
    kinds = {str(p.key_number) for p in seen}
    assert {m["text"] for m in drawn["marks"] if m["look"] == "key"} == kinds


def test_the_cut_runs_along_the_largest_bed(facts):
    cut = main_section(facts)
    beds = facts.rows["beds"]
    assert cut.bed.area_m2 == max(b.area_m2 for b in beds)
    line = shapely.LineString([cut.start, cut.end])
    assert line.intersection(cut.bed.geometry).length > 0.8 * line.length
    middle = line.interpolate(0.5, normalized=True)
    assert cut.place(middle) == pytest.approx((line.length / 2, 0.0), abs=1e-9)


@pytest.mark.parametrize(
    ("end", "looking"), [((1, 0), "north"), ((0, 1), "west"), ((-1, 0), "south"), ((1, -1), "northeast")]
)
def test_one_looks_to_the_left_of_the_cut(facts, end, looking):
    bed = main_section(facts).bed
    cut = type(main_section(facts))(bed, shapely.Point(0, 0), shapely.Point(end))
    assert cut.looking == looking

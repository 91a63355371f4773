"""Clumsy files cost what they hold, not its square; beyond a limit a sentence says which and how to mend."""

import numpy as np
import pytest
import shapely

from habitat.commands.check.account import check_study
from habitat.commands.check.words import word_notes
from habitat.knowledge import load_knowledge, names, resolve_butterflies, resolve_plants
from habitat.layers import shapes
from habitat.layers.cells import ids
from habitat.layers.formats import csv_table
from habitat.layers.join import overlaps, people
from habitat.settings.knowledge import KnowledgeSettings
from tests.layers import builders as make
from tests.support.hard_files import CLUMSY, HOSTILE

EVERY = {**CLUMSY, **HOSTILE}


def check(folder, name, size):
    return check_study(EVERY[name][0](folder, size), more=word_notes)


def error(folder, name, size):
    result = check(folder, name, size)
    assert result["exit"] == 2
    return result["error"]["message"]


def test_outlines_that_cross_themselves_too_often_are_set_aside(tmp_path, monkeypatch):
    monkeypatch.setattr(shapes, "MOST_CROSSINGS", 50)
    assert "crosses itself in more than 50 places" in error(tmp_path, "star_polygon", 31)


def test_a_star_within_the_limit_is_repaired(tmp_path):
    result = check(tmp_path, "star_polygon", 31)
    assert result["error"] is None
    assert result["layers"]["yards"]["repaired"] == 1


def test_a_layer_has_a_limit_of_crossings_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setattr(shapes, "MOST_OF_A_LAYER", 60)
    corners = np.array([(0, 0), (40, 40), (40, 0), (0, 40), (20, 60), (20, -9), (30, 50), (1, 1)])
    wide = [shapely.Polygon(corners + np.array([make.WEST + 90 * k, make.SOUTH])) for k in range(20)]
    assert all(shapes.count_crossings(one, 10**6) > 3 for one in wide)
    make.yards({f"y{k}": one for k, one in enumerate(wide)}).to_file(tmp_path / "yards.gpkg")
    layer = check_study(make.study(tmp_path, {"yards": "yards.gpkg"}))["layers"]["yards"]
    assert 0 < layer["repaired"] < 20
    assert layer["repaired"] + layer["set_aside"] == 20
    assert all("those of the rows above counted in" in row["reason"] for row in layer["set_aside_rows"])


@pytest.mark.parametrize("n", [5, 7, 12])
def test_crossings_are_those_of_a_star(n):
    # a star {n/2} of n points crosses itself n times, as each side meets its two neighbours' sides
    angle = np.arange(n) * 4 * np.pi / n if n % 2 else None
    if angle is None:
        assert shapes.count_crossings(shapely.Point(0, 0).buffer(1, quad_segs=n), 10) == 0
        return
    star = shapely.Polygon(np.column_stack([np.cos(angle), np.sin(angle)]))
    assert shapes.count_crossings(star, 100) == n


def test_yards_in_a_pile_share_what_unions_one_by_one_say():
    rng = np.random.default_rng(4)
    discs = shapely.buffer(shapely.points(rng.uniform(0, 60, (150, 2))), 25.0, quad_segs=8)
    apart = shapely.box([500, 508], [0, 0], [510, 518], [10, 10])
    every = np.array([*discs, *apart, discs[3], discs[3]])
    found = overlaps.find_overlaps(every)
    assert [len(pile) for pile in found.piles] == [150]
    assert list(zip(found.first, found.second, found.pair_m2.round(6), strict=True))[-1][:2] == (150, 151)
    assert found.ground_m2 == pytest.approx(shapely.union_all(every).area)
    for i in (0, 3, 77, 149, 150, 152, 153):
        rest = shapely.union_all(np.delete(every, i))
        assert found.yard_m2[i] == pytest.approx(every[i].intersection(rest).area, abs=1e-6)


def test_pairs_within_a_pile_are_not_looked_at_one_by_one(monkeypatch):
    seen = []
    whole = shapely.relate_pattern
    monkeypatch.setattr(overlaps.shapely, "relate_pattern", lambda a, *r: seen.append(len(a)) or whole(a, *r))
    overlaps.find_overlaps(np.array([make.box(0.001 * i, 0, 30, 40 + 0.001 * i) for i in range(400)]))
    assert sum(seen) == 0


def test_too_many_pairs_are_refused_with_a_sentence(tmp_path, monkeypatch):
    monkeypatch.setattr(overlaps, "MOST_PAIRS", 500)
    assert "the yards lie on top of each other: more than" in error(tmp_path, "stacked_yards", 200)


def test_units_of_one_building_are_told_once_and_all_kept(tmp_path):
    result = check(tmp_path, "condominium", 120)
    assert result["layers"]["yards"]["used"] == 120
    assert "120 yards are stacked on the same ground" in make.notes(result)
    outline = shapely.buffer(make.box(0, 0, 60, 40), 3.0, quad_segs=16)
    assert result["ground_area_m2"] == pytest.approx(outline.area)
    assert all(yard["overlap_m2"] == pytest.approx(outline.area) for yard in result["yards"])


def test_a_constant_is_no_id(tmp_path, monkeypatch):
    monkeypatch.setattr(ids, "MOST_OF_ONE_ID", 30)
    assert "40 rows of different shapes carry the yard id 'CITY'" in error(tmp_path, "one_id_for_all", 40)


def test_copies_of_a_row_are_set_aside_each(tmp_path):
    layer = check(tmp_path, "copies_of_one_row", 300)["layers"]["yards"]
    assert (layer["used"], layer["set_aside"]) == (1, 299)


@pytest.mark.parametrize("look_up", [resolve_plants, resolve_butterflies])
def test_each_name_is_looked_up_once_and_only_so_many_are_compared(monkeypatch, look_up):
    asked, compared = [], []
    match, near = names._match, names.nearest
    monkeypatch.setattr(names, "_match", lambda *a, **k: asked.append(a[0]) or match(*a, **k))
    monkeypatch.setattr(names, "nearest", lambda *a: compared.append(a[0]) or near(*a))
    given = [f"qwrtz {chr(97 + i % 26)}{chr(97 + i // 26)}q" for i in range(names.SUGGESTED + 50)] * 40
    found = look_up(given, load_knowledge(KnowledgeSettings()))
    assert [m.given for m in found] == given
    assert len(asked) == names.SUGGESTED + 50
    assert len(compared) == names.SUGGESTED
    assert "compared with no name" in found[-1].note


def test_a_cell_of_prose_is_no_name():
    found = resolve_plants(["x" * 5000], load_knowledge(KnowledgeSettings()))[0]
    assert (found.accepted, "5000 letters long" in found.note) == (None, True)


def test_the_nearest_are_told_of_so_many_rows_only(tmp_path, monkeypatch):
    monkeypatch.setattr(people, "HINTED", 5)
    result = check(tmp_path, "strangers_on_the_sheet", 30)
    told = [row["what"] for row in result["tables"]["participants"]["unmatched_rows"]]
    assert len(told) == 30
    assert sum("the nearest are told of 5 rows" in what for what in told) == 25


def test_a_quote_that_swallows_rows_is_refused(tmp_path):
    # beyond the library's own bound of 131,072 letters, where two readers once disagreed, and below it
    assert "takes in 4,000 whole rows below it as text" in error(tmp_path, "stray_quote", 4_002)
    assert "takes in 5 whole rows below it as text" in error(tmp_path, "stray_quote", 7)


def test_a_note_of_several_lines_is_no_swallowed_row(tmp_path):
    text = 'plant,count,notes\nAster,1,"tall, pink\nby the fence,\nsunny"\nAster,2,""\n'
    assert len(csv_table.parse_text(text, "a.csv").rows) == 2


def test_a_quote_left_open_is_refused_with_its_line(tmp_path):
    assert "a quote that is opened in line 12 is never closed" in error(tmp_path, "open_quote", 20)


def test_any_complaint_of_the_reader_refuses_the_table():
    text = 'plant,count,notes\nAster,1,"5 ft\n6 wide" tall\nAster,2,""\n'
    with pytest.raises(csv_table.LayerError, match="does not hold together in or below line 2"):
        csv_table.parse_text(text, "a.csv")


def test_cells_and_columns_have_limits(tmp_path, monkeypatch):
    monkeypatch.setattr(csv_table, "MAX_CELL", 150_000)
    assert "holds more than 150,000 letters" in error(tmp_path, "huge_cell", 200_000)
    monkeypatch.setattr(csv_table, "MAX_COLUMNS", 300)
    assert "line 1 has 1,003 cells; up to 300 are read" in error(tmp_path, "many_columns", 1_000)
    assert "cells; up to 300 are read" in error(tmp_path, "line_of_columns_alone", 500)


@pytest.mark.parametrize("codec", [n.removeprefix("encoding_") for n in CLUMSY if n.startswith("encoding_")])
def test_encodings_that_no_file_has_are_refused(tmp_path, codec):
    assert f"encoding {codec!r} is not known" in error(tmp_path, f"encoding_{codec}", 3)


@pytest.mark.parametrize(
    ("name", "size", "words"),
    [
        ("deep_toml_array", 5_000, "more than 40 deep inside each other"),
        ("deep_toml_table", 5_000, "more than 40 deep inside each other"),
        ("deep_toml_inline", 5_000, "more than 40 deep inside each other"),
        ("number_of_many_digits", 5_000, "a value in it cannot be read"),
        ("long_path", 5_000, "names a path of 5,004 letters"),
        ("big_study_file", 5_000_000, "larger than 4 MB"),
    ],
)
def test_study_files_of_no_sense_are_refused(tmp_path, name, size, words):
    assert words in error(tmp_path, name, size)


def test_brackets_in_comments_and_text_of_a_study_are_not_counted(tmp_path):
    path = make.study(tmp_path, {"yards": "yards.gpkg"}, head="# see [1\n" * 60)
    make.yards().to_file(tmp_path / "yards.gpkg")
    assert check_study(path)["error"] is None

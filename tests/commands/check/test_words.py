"""What habitat check tells of names, words and the region."""

import json

from tests.commands.calls import call
from tests.layers import builders as make


def test_yards_far_from_the_tables_region_are_warned_of(tmp_path):
    make.yards().to_crs(4326).translate(96.0, 10.0).to_frame("geometry").assign(
        yard_id=["a", "b", "c"]
    ).to_file(tmp_path / "y.gpkg")
    study = make.study(tmp_path, {"yards": "y.gpkg"})
    result = json.loads(call("check", str(study), "--json", code=2))
    assert "lie outside every region" in result["error"]["message"]
    notes = result["notes"]
    assert [n["harm"] for n in notes if "lie outside the Ohio Valley" in n["what"]] == [3]
    why = call("why", str(study), "--yard", "a", "--plant", "swamp milkweed")
    assert "lie outside the Ohio Valley" in " ".join(why.split())


def test_check_tells_names_and_words_that_no_table_knows(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    lon, lat = make.degrees(5, 8)
    (tmp_path / "p.csv").write_text(f"plant,lat,lon\nMilkwed,{lat},{lon}\n", encoding="utf-8")
    (tmp_path / "s.csv").write_text("yard_id,drainage\nTB-01,puddles stand\n", encoding="utf-8")
    path = make.study(tmp_path, {"yards": "y.gpkg", "plants": "p.csv", "soil_tests": "s.csv"})
    result = json.loads(call("check", str(path), "--json"))
    assert "'Milkwed' is not in the tables" in make.notes(result, "plants")
    assert "well drained" in make.notes(result, "soil_tests")
    assert "Milkwed" in call("check", str(path))

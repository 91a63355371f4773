"""Which results are opened, and which are refused in words."""

import json

import pyogrio
import pytest

from habitat.errors import HabitatError
from habitat.what_if.base import FILES, hashes, read_base


def about(folder, **changes):
    path = folder / "run.json"
    found = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps(found | changes), encoding="utf-8")


def test_what_is_read_is_what_was_written(base, street):
    assert base.request.yard_ids == ("A1", "A2", "A3", "A5")
    assert len(base.raw.points) == len(street.plan.plant_points)
    written = {key for marks in base.was.values() for key in marks}
    assert written == set(base.earlier.carried.drawn)
    assert set(base.files) == set(FILES)
    assert base.files["decisions.xlsx"] == ""


def test_no_results_public_ones_and_others_versions_are_refused(street, results, tmp_path):
    with pytest.raises(HabitatError, match="no results of a run here"):
        read_base(tmp_path)
    about(results, audience="public")
    with pytest.raises(HabitatError, match=r"for the public.*--audience group"):
        read_base(results, street.path)
    about(results, audience="group", versions={"habitat": "0.0.1"})
    with pytest.raises(HabitatError, match=r"made by habitat 0\.0\.1.*habitat redraw DIR"):
        read_base(results, street.path)


def test_edits_that_redraw_has_to_place_are_for_redraw(street, results):
    path = results / "plan.gpkg"
    beds = pyogrio.read_dataframe(path, layer="beds")
    beds.loc[0, "yard_id"] = None
    pyogrio.write_dataframe(beds, path, layer="beds")
    with pytest.raises(HabitatError, match=r"layer beds, somebody added rows.*habitat redraw"):
        read_base(results, street.path)
    (results / "lists").mkdir()
    (results / "lists" / "plantings.xlsx").write_bytes(b"edited")
    with pytest.raises(HabitatError, match="has been edited and is not drawn yet"):
        read_base(results, street.path)
    assert hashes(results)["lists/plantings.xlsx"]


def test_what_somebody_edited_in_a_gis_is_opened_as_edited(street, results):
    path = results / "plan.gpkg"
    rows = pyogrio.read_dataframe(path, layer="plantings")
    rows.loc[0, "count"] += 4
    pyogrio.write_dataframe(rows, path, layer="plantings")
    opened = read_base(results, street.path)
    mine = opened.settled.drawn.plantings.set_index("planting_id").loc[rows["planting_id"][0]]
    assert mine["count"] == rows["count"][0]
    assert mine["by_hand"]

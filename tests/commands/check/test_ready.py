"""A check refuses what a run would: the target too, where one is named, and the results that it follows."""

import pytest

from habitat.commands.check.ready import refused_by_run
from habitat.errors import HabitatError, OutputError
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.commands.calls import call
from tests.layers import builders as make


@pytest.fixture
def study(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    return make.study(tmp_path, {"yards": "y.gpkg"}, head='crs = "EPSG:32617"')


def test_a_folder_with_something_else_in_it_is_refused_by_check_as_by_run(study, tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear", encoding="utf-8")
    for replace in ([], ["--replace"]):
        command = ["check", str(study), "--quiet", "--out", str(tmp_path / "mine"), *replace]
        assert "something other than results" in call(*command, code=2)
    (tmp_path / "empty").mkdir()
    assert "next:" in call("check", str(study), "--out", str(tmp_path / "empty"))
    assert "next:" in call("check", str(study), "--out", str(tmp_path / "new"))
    assert not (tmp_path / "new").exists()


def test_all_reasons_come_together(study, tmp_path):
    text = study.read_text(encoding="utf-8").replace("[study]", f'[study]\nafter = "{tmp_path / "gone"}"')
    study.write_text(text + '[planting]\nwishes = ["unicorn"]\n', encoding="utf-8")
    one = read_study(study)
    with pytest.raises(HabitatError) as caught:
        refused_by_run(one, read_layers(one), folder=tmp_path)
    for part in ("unicorn", "gone", str(tmp_path)):
        assert part in str(caught.value)


def test_a_sound_study_is_not_refused(study, tmp_path):
    one = read_study(study)
    refused_by_run(one, read_layers(one), folder=tmp_path / "new")
    with pytest.raises(OutputError):
        refused_by_run(one, read_layers(one), folder=study)

"""Soil tests in people's own words."""

import math

import pytest

from habitat.commands.check.account import check_study
from habitat.layers.read import read_layers
from habitat.study.files import sources_of
from habitat.study.reading import read_study
from tests.layers import builders as make

TABLE = """yard_id,ph,texture,drainage,sun_h
TB-01,about 6,SiL,poor,part shade
TB-02,6.2-6.8,heavy clay,slow,6+
TB-03,neutral,poor,good,4-5
"""


@pytest.fixture
def study(tmp_path):
    make.yards().to_file(tmp_path / "y.gpkg")
    (tmp_path / "t.csv").write_text(TABLE, encoding="utf-8")
    return make.study(tmp_path, {"yards": "y.gpkg", "soil_tests": "t.csv"})


def test_words_become_classes_and_numbers_and_are_told(study):
    tests = read_layers(sources_of(read_study(study))).frame("soil_tests").set_index("yard_id")
    assert tests["ph"].tolist() == [6.0, 6.5, 7.0]
    assert tests["sun_h"].tolist() == [4.5, 6.0, 4.5]
    assert tests["drainage"].tolist() == ["poorly drained", "somewhat poorly drained", "well drained"]
    assert tests["texture"].tolist()[:2] == ["silt loam", "clay"]
    assert tests["texture"].isna().tolist() == [False, False, True]
    told = make.notes(check_study(study), "soil_tests")
    assert "texture 'SiL' is taken as silt loam" in told
    assert "texture 'poor' is not known from that" in told
    assert "drainage 'slow' is taken as somewhat poorly drained" in told
    assert "ph '6.2-6.8' is taken as 6.5" in told


def test_what_no_table_understands_is_told_as_before(study, tmp_path):
    (tmp_path / "t.csv").write_text("yard_id,ph,drainage\nTB-01,lemon,puddles stand\n", encoding="utf-8")
    layers = read_layers(sources_of(read_study(study)))
    assert math.isnan(layers.frame("soil_tests")["ph"].iloc[0])
    assert "ph 'lemon' is no number: unknown" in make.notes(check_study(study), "soil_tests")
    assert layers.frame("soil_tests")["drainage"].tolist() == ["puddles stand"]

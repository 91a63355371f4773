"""What people write into a walk form; blanks and words of no meaning are not told."""

import pytest

from habitat.layers.cells.walk_words import place_words, sun_word
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("Right side", "right"),
        ("on the LEFT", "left"),
        ("left-side", "left"),
        ("front & back", "front;back"),
        ("back; back", "back"),
        ("behind the house", "back"),
        ("No.", "none"),
        ("nothing", "none"),
        ("no fence", "none"),
        ("no idea", None),
        ("yes", "yes"),
        ("left of the asphalt", None),
        ("=1+1", None),
    ],
)
def test_places(said, meant):
    assert place_words(said) == meant


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        *(("full", "full"), ("6 h", "full"), ("part shade", "part"), ("2", "shade"), ("?", None)),
        *(("9, 12 and 3", "full"), ("9 12", "part"), ("3", "part"), ("9-3", None), ("12 3 7", None)),
        ("99", None),
    ],
)
def test_sun(said, meant):
    assert sun_word(said) == meant


def test_rows_find_their_yard_and_odd_words_are_told(tmp_path):
    make.yards(address=make.ADDRESSES).to_file(tmp_path / "yards.gpkg")
    text = "yard_id,address,drive,sun_back\n,12 plum alley,right,FULL\nTB-02,,tarmac,\nTB-09,,left,\n"
    (tmp_path / "walk.csv").write_text(text, encoding="utf-8")
    layer = read_layers(
        read_study(make.study(tmp_path, {"yards": "yards.gpkg", "walk": "walk.csv"}))
    ).vectors["walk"]
    assert layer.frame["yard_id"].tolist() == ["TB-01", "TB-02"]
    assert layer.frame["drive"].tolist() == ["right", None]
    assert layer.frame["sun_back"].tolist() == ["full", None]
    assert "no yard has the id 'TB-09'" in layer.set_aside["reason"].iloc[0]
    assert any("drive is 'tarmac'" in note.what and note.row == 1 for note in layer.notes)

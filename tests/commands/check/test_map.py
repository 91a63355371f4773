"""The map of a check."""

import numpy as np
from PIL import Image

from habitat.commands.check.account import draw_check_map
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study


def test_the_map_marks_what_was_repaired_or_set_aside(messy, tmp_path):
    layers = read_layers(read_study(messy))
    path = draw_check_map(layers, tmp_path / "map.png", "Messy street")
    picture = np.asarray(Image.open(path).convert("RGB")).astype(int)
    orange = (np.abs(picture - [217, 95, 2]).sum(axis=2) < 30).sum()
    assert orange > 200
    assert picture.shape[0] > 600
    again = draw_check_map(layers, tmp_path / "again.png", "Messy street")
    assert again.read_bytes() == path.read_bytes()

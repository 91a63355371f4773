"""The map of a check."""

import numpy as np
import pytest
from PIL import Image

from habitat.commands.check.account import draw_check_map
from habitat.errors import OutputError
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
    assert draw_check_map(layers, path, "Messy street").read_bytes() == again.read_bytes()
    own = tmp_path / "holiday.png"
    for content in (b"my holiday", b"\x89PNG\r\n\x1a\n of another program"):
        own.write_bytes(content)
        with pytest.raises(OutputError, match="no map of a check"):
            draw_check_map(layers, own, "Messy street")
        assert own.read_bytes() == content

"""The encoding of text."""

import pytest

from habitat.commands.check.account import check_study
from habitat.errors import LayerError
from habitat.layers.formats import text
from habitat.layers.formats.shapefile import choose, decode_cell
from tests.layers import builders as make


@pytest.mark.parametrize("codec", ["utf-8", "cp1252", "cp850", "mac_roman"])
def test_the_encoding_of_bytes_is_found(codec):
    samples = [t.encode(codec) for t in ("Café Été", "Jardín Peñón", "Grünes Eck")]
    found, told = choose(samples, None, (None, ""), "x.dbf")
    assert found == codec
    assert bool(told) == (codec != "utf-8")
    assert [decode_cell(s, found) for s in samples] == ["Café Été", "Jardín Peñón", "Grünes Eck"]


def test_stated_encodings_must_fit_and_be_known():
    assert choose(["Été".encode("cp1250")], "windows-1250", (None, ""), "x")[0] == "cp1250"
    with pytest.raises(LayerError, match="does not decode as UTF-8"):
        choose(["Été".encode("cp1252")], "utf-8", (None, ""), "x")
    for bad in ("utf-9", "rot13", "a\0b"):
        with pytest.raises(LayerError, match="is not known"):
            text.codec_of(bad, "x")
    with pytest.raises(LayerError, match="first in line 2"):
        text.decode_bytes("a\né".encode("cp1252"), "utf-8", "x")


def test_garbled_and_lost_letters_are_told(tmp_path, with_plants):
    make.yards(label=["CafÃ© Ã‰tÃ©", "b", "c"]).to_file(tmp_path / "y.gpkg")
    assert "looks garbled" in make.notes(check_study(make.study(tmp_path, {"yards": "y.gpkg"})))
    assert "letters were lost" in make.notes(with_plants(make.plants_text().replace("Zizia", "Z�zia")))


def test_mixed_text_is_decoded_cell_by_cell():
    cells = ["Été".encode(), "Grün".encode("cp1252")]
    codec, _ = choose(cells, None, (None, ""), "x")
    assert [decode_cell(c, codec, mixed=True) for c in cells] == ["Été", "Grün"]

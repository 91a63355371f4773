"""matches.csv: what is written is read back as it was."""

from types import SimpleNamespace

import habitat
from habitat.layers.join.matches import COLUMNS
from habitat.pipeline.reading import read_layers
from habitat.report.lists.matches import matches_of, write_matches
from tests.layers import builders as make

SHEET = "yard_id,address,role\nTB-01,,member\n,3 Mil Gren,member\n,=12 Nowhere,member\n"


def test_what_is_written_is_read_back_as_it_was(tmp_path):
    make.yards(address=make.ADDRESSES).to_file(tmp_path / "y.gpkg")
    (tmp_path / "p.csv").write_text(SHEET, encoding="utf-8")
    (tmp_path / "m.csv").write_text("address,yard_id,answer\n3 mil gren,tb03,x\n", encoding="utf-8")

    def read(matches):
        names = {"yards": "y.gpkg", "participants": "p.csv", "matches": matches}
        return SimpleNamespace(layers=read_layers(habitat.read_study(make.study(tmp_path, names))))

    first = read("m.csv")
    text = write_matches(first, tmp_path / "out.csv").read_text(encoding="utf-8-sig")
    assert text.splitlines()[0] == ",".join(COLUMNS)
    assert "'=12 Nowhere" in text
    told = {(r["address"], r["yard_id"]): (r["how"], r["answer"]) for r in matches_of(first)}
    assert told["3 mil gren", "TB-03"][1] == "confirmed"
    assert first.layers.yards["role"].tolist() == ["member", "other", "member"]
    again = {(r["address"], r["yard_id"]): (r["how"], r["answer"]) for r in matches_of(read("out.csv"))}
    assert again == told
    assert matches_of(SimpleNamespace(layers=SimpleNamespace(vectors={}))) == []

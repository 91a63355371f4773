"""Archives: which layer, how large, and nowhere but where they belong."""

import zipfile

from habitat.commands.check.account import check_study
from habitat.layers.formats import archive
from tests.layers import builders as make


def test_two_shapefiles_in_one_zip_need_a_name(tmp_path):
    (tmp_path / "in").mkdir()
    make.shapefile(tmp_path / "in")
    make.shapefile(tmp_path / "in", stem="other")
    make.zipped(tmp_path, sorted((tmp_path / "in").iterdir()))
    result = check_study(make.study(tmp_path, {"yards": "layer.zip"}))
    assert result["exit"] == 2
    assert "several layers: other, yards" in result["error"]["message"]
    result = check_study(make.study(tmp_path, {"yards": {"path": "layer.zip", "layer": "other"}}))
    assert result["exit"] == 0


def test_the_archive_says_which_layers_it_holds(tmp_path):
    (tmp_path / "in").mkdir()
    for stem in ("yards", "streets"):
        make.shapefile(tmp_path / "in", stem=stem)
    make.zipped(tmp_path, sorted((tmp_path / "in").iterdir()), "t.zip")
    result = check_study(make.study(tmp_path, {"yards": {"path": "t.zip", "layer": "parcels"}}))
    assert "it holds no layer 'parcels'. Its layers: streets, yards" in result["error"]["message"]


def packed(tmp_path, members, name="y.zip"):
    with zipfile.ZipFile(tmp_path / name, "w", zipfile.ZIP_DEFLATED) as out:
        for member, data in members:
            out.writestr(member, data)
    return check_study(make.study(tmp_path, {"yards": name}))


def test_archives_that_climb_out_grow_or_hold_too_much_are_refused(tmp_path, monkeypatch):
    for member in ("../y.geojson", "/etc/y.geojson", "a/../../y.geojson", "C:\\y.geojson", "..\\y.geojson"):
        assert "points out of its own folder" in packed(tmp_path, [(member, "{}")])["error"]["message"]
    link = zipfile.ZipInfo("y.geojson")
    link.external_attr = 0o120777 << 16
    assert "points out of its own folder" in packed(tmp_path, [(link, "/etc/passwd")])["error"]["message"]
    assert "would unpack to" in packed(tmp_path, [("y.geojson", b" " * 90_000_000)])["error"]["message"]
    monkeypatch.setattr(archive, "MAX_FILES", 3)
    assert "holds 4 files" in packed(tmp_path, [(f"{i}.txt", "x") for i in range(4)])["error"]["message"]
    assert "holds no layer" in packed(tmp_path, [("readme.md", "x")])["error"]["message"]
    assert "damaged" in _cut(tmp_path)["error"]["message"] or _cut(tmp_path)["exit"] == 2
    assert sorted(p.name for p in tmp_path.iterdir()) == ["study.toml", "y.zip"]


def _cut(tmp_path):
    packed(tmp_path, [("y.geojson", "{}" * 500)])
    data = (tmp_path / "y.zip").read_bytes()
    (tmp_path / "y.zip").write_bytes(data[: len(data) // 2])
    return check_study(tmp_path / "study.toml")

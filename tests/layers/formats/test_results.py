"""A plan.gpkg that comes back from somebody: read as it was written, refused where it is something else."""

import sqlite3
import struct

import pytest

from habitat.errors import LayerError
from habitat.layers.formats import views
from habitat.layers.formats.results import read_results
from tests.layers import builders as make
from tests.support.hard_files import nested_wkb


@pytest.fixture
def package(tmp_path):
    path = tmp_path / "plan.gpkg"
    make.yards().to_file(path, layer="yards")
    return path


def changed(path, *statements):
    with sqlite3.connect(path) as base:
        for statement in statements:
            base.execute(statement)


def test_a_layer_comes_back_as_it_was_written(package):
    assert read_results(package, "yards").geometry.geom_equals(make.yards().geometry).all()
    assert list(read_results(package, "yards", shapes=False)["yard_id"]) == list(make.YARDS)


WEB = """<OGRVRTDataSource><OGRVRTLayer name="yards"><SrcDataSource>http://127.0.0.1:9/x.geojson</SrcDataSource>
</OGRVRTLayer></OGRVRTDataSource>"""


@pytest.mark.parametrize("text", ["", "yard_id\n1\n", WEB])
def test_what_is_no_geopackage_is_refused_before_any_library_opens_it(package, text):
    """A virtual layer under this name would be opened by what it holds, and would ask another machine."""
    package.write_text(text, encoding="utf-8")
    with pytest.raises(LayerError, match=r"no GeoPackage.*Put the file back"):
        read_results(package, "yards")


def test_a_view_without_an_end_is_refused(package, monkeypatch):
    monkeypatch.setattr(views, "MOST_STEPS", 1_000_000)
    endless = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i FROM n WHERE i < 0"
    changed(package, f"CREATE VIEW beds AS {endless}")
    with pytest.raises(LayerError, match=r"the view 'beds' cannot be read within bounds"):
        read_results(package, "yards")


def test_shapes_deep_inside_each_other_are_refused(package):
    blob = b"GP\0\1" + struct.pack("<i", 32617) + nested_wkb(5000)
    with sqlite3.connect(package) as base:
        for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            base.execute(f'DROP TRIGGER "{name}"')
        base.execute("UPDATE yards SET geom = ? WHERE rowid = 1", (blob,))
    with pytest.raises(LayerError, match="too deep"):
        read_results(package, "yards")


def test_a_layer_that_is_gone_is_named(package):
    with pytest.raises(LayerError, match=r"plan\.gpkg, layer beds"):
        read_results(package, "beds")

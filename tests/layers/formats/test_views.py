"""A view of a database is a program: it is tried within bounds before the format library runs it."""

import pytest

from habitat.commands.check.account import check_study
from habitat.layers.formats import views
from tests.support.hard_files import HOSTILE


@pytest.mark.parametrize(
    ("name", "bound", "value", "size", "words"),
    [
        ("view_without_end", "MOST_STEPS", 1_000_000, 10**12, "it takes too long"),
        ("view_of_many_rows", "MOST_ROWS", 1_000, 20_000, "it gives more than 1,000 rows"),
        ("view_of_many_rows", "MOST_BYTES", 100_000, 20_000, "or 0 MB"),
        ("view_of_big_blobs", "LONGEST", 100_000, 1_000_000, "too big"),
    ],
)
def test_views_are_tried_within_bounds(tmp_path, monkeypatch, name, bound, value, size, words):
    monkeypatch.setattr(views, bound, value)
    message = check_study(HOSTILE[name][0](tmp_path, size))["error"]["message"]
    assert "the view 'yards' cannot be read within bounds" in message
    assert words in message


def test_a_view_that_ends_is_read(tmp_path):
    assert check_study(HOSTILE["view_of_many_rows"][0](tmp_path, 1))["layers"]["yards"]["rows_in"] == 3


def test_a_file_that_is_no_database_is_left_to_the_library(tmp_path):
    (tmp_path / "yards.gpkg").write_bytes(b"SQLite format 3\0" + b"x" * 2000)
    views.refuse_endless_views(tmp_path / "yards.gpkg", "yards.gpkg")

"""An edited list of plantings is read however a spreadsheet left it."""

import openpyxl
import pytest

from habitat.errors import LayerError, MissingFileError
from habitat.revision.listed import count_of, read_list, text_of, wanted_of

WAS = {"planting a-p01": "Aster novus|plug|4", "planting a-p02": "Ruta alba|pot|2", "bed a-b1": "x"}


def write(path, rows):
    if path.suffix == ".xlsx":
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append(row)
        book.save(path)
    else:
        path.write_text("\n".join(";".join(map(str, row)) for row in rows), encoding="cp1252")
    return path


@pytest.mark.parametrize("name", ["plantings.csv", "plantings.xlsx"])
def test_only_what_is_not_as_it_was_is_wanted(tmp_path, name):
    rows = [
        ("Planting ID", "yard_id", "Plant", "count", "remark"),
        ("a-p01", "a", "Aster novus", 4, "as it was"),
        ("a-p02", "a", "", 3, ""),
    ]
    table, told = read_list(write(tmp_path / name, rows))
    wanted, notes = wanted_of(table, name, WAS)
    assert wanted == {"a-p02": {"plant": "", "form": "", "count": 3}}
    assert notes == ()
    assert told == () or name.endswith(".csv")  # the separator and the code page are told


def test_a_list_without_a_column_or_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(LayerError, match="the column count is missing"):
        read_list(write(tmp_path / "plantings.csv", [("planting_id", "plant"), ("a-p01", "x")]))
    with pytest.raises(MissingFileError, match="no such list"):
        read_list(tmp_path / "none.csv")


def test_cells_are_read_as_people_write_them():
    assert [count_of(v) for v in ("3", 3.0, " 4 ", "0", "2.5", "-1", "x", None, True, "1e9")] == [
        3, 3, 4, 0, None, None, None, None, None, None,
    ]  # fmt: skip
    assert [text_of(v) for v in (None, float("nan"), " x ", "'=1", 7)] == ["", "", "x", "=1", "7"]

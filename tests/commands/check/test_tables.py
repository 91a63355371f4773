"""The tables of a check: the worst first, in any window."""

import io

import pytest
from rich.console import Console

from habitat.commands.check.account import check_study, check_tables
from habitat.commands.terminal import print_rows


def printed(result, width):
    """Return the tables of a check as a window of a width shows them."""
    out = io.StringIO()
    for title, rows in check_tables(result):
        print_rows(title, rows, Console(file=out, width=width))
    return out.getvalue()


def test_tables_tell_the_worst_first(messy):
    text = printed(check_study(messy), 160)
    for words in (
        "yards",
        "plants",
        "ph",
        "set aside",
        "ground covered, overlaps once",
        "bow: invalid",
        "P6: set aside",
    ):
        assert words in text
    assert text.index("P6: set aside") < text.index("bow: invalid")


@pytest.mark.parametrize("width", [40, 60, 80])
def test_tables_fit_a_window_and_break_no_word(messy, width):
    result = check_study(messy)
    text = printed(result, width)
    assert max(map(len, text.splitlines())) <= width
    assert "…" not in text
    shown = set(text.split())
    for title, rows in check_tables(result):
        words = " ".join([title, *(str(cell) for row in rows for cell in row.values())]).split()
        assert {w for w in words if len(w) < 24} <= shown | {w + ";" for w in shown} | {
            w.rstrip(";") for w in shown
        }


def test_rows_of_which_the_same_is_said_share_a_line(messy):
    result = check_study(messy)
    result["layers"]["plants"]["notes"] = [
        {"row": row, "what": f"plants row {row + 1}: 'Aster laevis' is an older name", "harm": 1}
        for row in (1, 4, 6)
    ] + [{"row": 7, "what": "plants row 8: 'asterr' is not in the tables", "harm": 1}]
    text = printed(result, 120)
    assert "plants rows 2, 5, 7: 'Aster laevis' is an older name" in text
    assert "plants row 8: 'asterr'" in text

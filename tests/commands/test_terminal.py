"""What a terminal would obey in text from data is shown, wherever a command prints it."""

import json

import pytest
from rich.console import Console

from habitat.commands import terminal

CLEARS, TURNS, REWRITES = "\x1b[2J", "\u202e", "\x9b1A"
"""ECMA-48: erase in page, by ESC and by C1; Unicode Annex 9: right-to-left override."""


@pytest.fixture
def printed(monkeypatch, capsys):
    monkeypatch.setattr(terminal, "out", Console())
    monkeypatch.setattr(terminal, "err", Console(stderr=True))
    return lambda: "".join(capsys.readouterr())


@pytest.mark.parametrize("obeyed", [CLEARS, TURNS, REWRITES])
def test_no_way_of_printing_lets_data_rule_the_terminal(printed, obeyed):
    data = f"yard {obeyed}[red]9"
    terminal.say(data)
    terminal.print_rows(data, [{"yard": data, "plants": 3}])
    terminal.print_rows(data, [{"yard": data * 40, "plants": 3}])
    with terminal.progress_lines(False) as tell:
        tell(data, 0, 2)
    got = printed()
    assert obeyed not in got
    assert got.count("[red]9") == 45
    terminal.print_json({"yard": data})
    got = printed()
    assert obeyed not in got
    assert json.loads(got) == {"yard": data}

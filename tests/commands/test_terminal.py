"""What a terminal would obey in text from data is shown, wherever a command prints it."""

import io
import json
import shlex
from types import SimpleNamespace

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


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        (r"C:\towns\study.toml", r"C:\towns\study.toml"),
        (r"C:\our street\study.toml", r'"C:\our street\study.toml"'),
        ("oak&elm", '"oak&elm"'),  # a second command in cmd
        ("oak;elm", '"oak;elm"'),  # a second command in PowerShell
        ("oak, elm", '"oak, elm"'),
        ("Tom's yard", '"Tom\'s yard"'),
        ("our street\\", '"our street\\\\"'),
        ("$home's", "'$home''s'"),
        ("", '""'),
    ],
)  # fmt: skip
def test_commands_are_quoted_for_the_shells_of_windows(monkeypatch, typed, shown):
    """Rules of quoting of cmd, PowerShell (about_Quoting_Rules) and the C runtime's argv, from memory."""
    monkeypatch.setattr(terminal, "os", SimpleNamespace(name="nt"))
    assert terminal.shown_command(["check", typed]) == f"habitat check {shown}"


@pytest.mark.parametrize("typed", ["our street/study.toml", "oak&elm", "Tom's yard", "$home", ""])
def test_commands_are_quoted_for_the_shells_of_other_systems(monkeypatch, typed):
    monkeypatch.setattr(terminal, "os", SimpleNamespace(name="posix"))
    assert shlex.split(terminal.shown_command(["check", typed])) == ["habitat", "check", typed]


def test_a_sentence_without_a_total_stays_above_the_bar(monkeypatch):
    shown = io.StringIO()
    monkeypatch.setattr(terminal, "err", Console(file=shown, force_terminal=True, width=90))
    with terminal.progress_lines(False) as tell:
        tell("1,200 yards to plan", 0, 0)
        tell("reading", 1, 2)
    assert "1,200 yards to plan\n" in shown.getvalue()

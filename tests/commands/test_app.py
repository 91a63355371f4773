"""The command line as a whole: its commands, their help, its version."""

import re
from importlib.metadata import version

import pytest

from tests.commands.calls import call

COMMANDS = ("new", "demo", "check", "run", "why", "plants", "butterflies", "compare")


@pytest.mark.parametrize("command", COMMANDS)
def test_help_shows_a_real_call(command):
    text = call(command, "--help")
    assert f"habitat {command}" in text.split("For example:")[1]


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_flags_ask_for_no_value(command):
    assert "<bool>" not in call(*command.split(), "--help")


def test_help_lists_every_command():
    assert set(re.findall(r"(?m)^│ ([a-z]+) ", call("--help"))) >= set(COMMANDS)


def test_the_version_is_that_of_what_is_installed():
    assert call("--version") == f"habitat {version('habitat')}\n"

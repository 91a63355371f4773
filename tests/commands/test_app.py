"""The command line as a whole: its commands, their help, its version."""

import re
from importlib.metadata import version

import pytest

from tests.commands.calls import call, ended, start

COMMANDS = (
    "bed",
    "new",
    "demo",
    "check",
    "run",
    "why",
    "plants",
    "butterflies",
    "compare",
    "accept",
    "warm-up",
)


@pytest.mark.parametrize("command", COMMANDS)
def test_help_shows_a_real_call(command):
    text = call(command, "--help")
    assert f"habitat {command}" in text.split("For example:")[1]


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_flags_ask_for_no_value(command):
    assert "<bool>" not in call(*command.split(), "--help")


def test_help_lists_every_command():
    assert set(re.findall(r"(?m)^│ ([a-z-]+) ", call("--help"))) >= set(COMMANDS)


def test_the_version_is_that_of_what_is_installed():
    assert call("--version") == f"habitat {version('habitat')}\n"


HEAVY = {"geopandas", "numba", "scipy", "matplotlib", "rasterio", "pandas", "numpy", "loky"}


def test_help_loads_nothing_that_is_slow_to_load():
    script = "import sys; import habitat.commands.app; print(*sorted(sys.modules))"
    code, said, told = ended(start(script=script))
    assert (code, told) == (0, "")
    assert not HEAVY & set(said.split())


def test_ctrl_c_while_the_command_line_is_loaded_makes_no_traceback():
    script = (
        "import sys, builtins; real = builtins.__import__\n"
        "def stopped(name, *rest, **more):\n"
        "    if name == 'typer': raise KeyboardInterrupt\n"
        "    return real(name, *rest, **more)\n"
        "from habitat.commands.start import main; builtins.__import__ = stopped; main()"
    )
    code, said, told = ended(start(script=script))
    assert (code, said, told) == (130, "", "Stopped before the end; nothing was begun.\n")

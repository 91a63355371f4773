"""Calls of the command line: in this process, and in one of its own."""

import os
import subprocess
import sys
from pathlib import Path

from typer.testing import CliRunner

import habitat
from habitat.commands.app import app

HOME = str(Path(habitat.__file__).parents[1])


def call(*arguments, code=0):
    """Call the command line; return what it prints, errors too."""
    result = CliRunner().invoke(app, list(arguments))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == code, result.output
    return result.output


def start(*arguments, script="from habitat.commands.app import main; main()", **known):
    """Start the command line as a process in a group of its own, as a terminal does."""
    return subprocess.Popen(
        [sys.executable, "-c", script, *arguments],
        env={**os.environ, "PYTHONPATH": HOME, **known},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def ended(process, seconds=120):
    """Return exit code, standard output and errors of a process."""
    said, told = process.communicate(timeout=seconds)
    return process.returncode, said, told

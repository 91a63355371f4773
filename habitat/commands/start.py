"""Where the command ``habitat`` begins: what it needs is loaded here, so that Ctrl-C then ends it too."""

from __future__ import annotations

import sys

INTERRUPTED = 130
"""Exit code after Ctrl-C: 128 and the number of the signal, as POSIX shells tell it."""


def main() -> None:
    """Run the command line; README.md lists the exit codes."""
    try:
        from habitat.commands import app
    except KeyboardInterrupt:
        sys.stderr.write("Stopped before the end; nothing was begun.\n")
        sys.exit(INTERRUPTED)
    app.main()

"""The port on which opened results are served; only this machine can reach it."""

from __future__ import annotations

import contextlib
import io
from typing import Any

from werkzeug.serving import BaseWSGIServer, WSGIRequestHandler, make_server

from habitat.errors import OutputError

HOST = "127.0.0.1"


class _Quiet(WSGIRequestHandler):
    """Answers without a line for each question: the first would show the address that lets in."""

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        """Say nothing."""


def listen_on(port: int) -> BaseWSGIServer:
    """Return a server on a port of this machine, any free one for 0; it serves nothing yet.

    Raises
    ------
    OutputError
        If the port is taken or may not be used.
    """
    try:
        with contextlib.redirect_stderr(io.StringIO()):  # it tells in its own words, then ends the program
            return make_server(HOST, port, _nothing, threaded=True, request_handler=_Quiet)
    except (OSError, SystemExit) as error:
        raise OutputError(
            f"port {port} is taken or may not be used",
            HOST,
            "Name another with --port, or leave it out for any free one",
        ) from error


def _nothing(_environment: Any, start: Any) -> list[bytes]:
    start("503 Service Unavailable", [])
    return []

"""``habitat open``: results on this machine, to try changes on."""

from __future__ import annotations

import importlib.util
import os
import threading
from pathlib import Path
from typing import Annotated

import typer

from habitat.commands.terminal import progress_lines, say
from habitat.errors import OutputError
from habitat.progress import Progress


def open_results(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Results of a run.", show_default=False)],
    study: Annotated[
        Path | None, typer.Option(metavar="STUDY", help="The study file, if it has been moved.")
    ] = None,
    port: Annotated[
        int, typer.Option(metavar="NUMBER", min=0, max=65535, help="Serve on this port; 0: any free one.")
    ] = 0,
) -> None:
    """Try changes on results in a browser of this machine: beds, plants, who takes part; save what is good.

    Nothing is written before you save; saved edits are those of 'habitat redraw'. Ctrl-C closes.

    For example: habitat open first_plan
    """
    if importlib.util.find_spec("flask") is None:
        raise OutputError(
            "what serves the page is not installed",
            "habitat open",
            "Install it with: pip install 'habitat[open]' (in a checkout: pip install '.[open]')",
        )
    from habitat.what_if.listening import listen_on
    from habitat.what_if.server import Door, make_app
    from habitat.what_if.session import Session

    server = listen_on(port)
    with progress_lines(False) as progress:
        session = Session(folder, study, progress)
    door = Door(server.port)
    server.app = make_app(session, door, _draw)
    say(f"Open this in a browser of this machine; it works once: {door.address}")
    say("Ctrl-C closes it; what is not saved is gone then.")
    work = threading.Thread(target=server.serve_forever, daemon=True)
    work.start()
    try:
        while work.is_alive():
            work.join(0.5)
    finally:
        server.shutdown()
        server.server_close()


def _draw(folder: Path, study: Path | None, progress: Progress) -> None:
    from habitat.pipeline.one_run import redraw_results

    redraw_results(folder, study, workers=min(os.cpu_count() or 1, 8), progress=progress)

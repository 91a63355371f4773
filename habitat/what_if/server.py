"""The page of opened results, served to one browser of this machine and nobody else.

Flask serves it: one small package with well-kept parts, whose test client needs no network.
"""

from __future__ import annotations

import os
import secrets
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from flask import Flask, Response, abort, jsonify, redirect, request, send_from_directory
from werkzeug.exceptions import HTTPException

from habitat.errors import HabitatError
from habitat.progress import Progress
from habitat.report.page import html
from habitat.what_if.page import SCRIPTS, page_text
from habitat.what_if.session import OutdatedError, Session
from habitat.what_if.view import View

POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src {scripts}; connect-src {asked}; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
PAGE, RESULTS = (
    {"scripts": "'self'", "asked": "'self'"},
    {"scripts": "'unsafe-inline'", "asked": "'none'"},  # somebody else may have made them: they ask nothing
)
HEADERS = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
MOST_BYTES = 100_000
"""Of one question: a bed of 500 corners takes a fifth."""

LOCAL = ("127.0.0.1", "localhost")
Drawer = Callable[[Path, Path | None, Progress], object]


class Door:
    """Who may come in: the browser that was given the address of the terminal, once.

    Parameters
    ----------
    port
        On which the page is served; cookies of one machine are shared by all its ports, so it names them.
    """

    def __init__(self, port: int) -> None:
        self.hosts = {f"{name}:{port}" for name in LOCAL}
        self.cookie = f"habitat_{port}"
        self._turn = threading.Lock()
        self._token: str | None = secrets.token_urlsafe(32)
        self._key = secrets.token_urlsafe(32)
        self.address = f"http://{LOCAL[0]}:{port}/enter/{self._token}"

    def exchange(self, token: str) -> str | None:
        """Return the key for a token that was not used before, None for any other."""
        with self._turn:
            if self._token is None or not secrets.compare_digest(token.encode(), self._token.encode()):
                return None
            self._token = None
        return self._key

    def open_to(self, key: str) -> bool:
        """Return whether a key opens."""
        return secrets.compare_digest(key.encode(), self._key.encode())


def make_app(session: Session, door: Door, draw: Drawer) -> Flask:
    """Return the application.

    Parameters
    ----------
    session
        The opened results.
    door
        Who may come in.
    draw
        Draws results anew, as ``Session.redraw`` takes it.
    """
    app = Flask("habitat", static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = MOST_BYTES
    view = View(session)
    _guard(app, door)
    _pages(app, view)
    _steps(app, view, draw)
    return app


def _guard(app: Flask, door: Door) -> None:
    """Let nobody in but by the door, and nothing change but from the page itself."""

    @app.before_request
    def check() -> None:
        if request.host not in door.hosts:  # a name that somebody made point here
            abort(403, "this page is served to 127.0.0.1 alone")
        if (
            request.method not in ("GET", "HEAD")
            and request.headers.get("Origin") != f"http://{request.host}"
        ):
            abort(403, "only the page itself may change anything")
        if request.endpoint != "enter" and not door.open_to(request.cookies.get(door.cookie, "")):
            abort(403, "open the address that the terminal shows; it works once, in one browser")

    @app.get("/enter/<token>")
    def enter(token: str) -> Any:
        key = door.exchange(token)
        if key is None:
            abort(403, "this address was used already, or is not the one that the terminal shows")
        answer = redirect("/", 303)
        answer.set_cookie(door.cookie, key, httponly=True, samesite="Strict", path="/")
        return answer

    @app.after_request
    def seal(answer: Response) -> Response:
        answer.headers.update(HEADERS)
        rights = RESULTS if request.path.startswith("/results/") else PAGE
        answer.headers.setdefault("Content-Security-Policy", POLICY.format(**rights))
        return answer

    @app.errorhandler(HTTPException)
    def refuse(error: HTTPException) -> tuple[Response, int]:
        said = error.description or error.name
        return _plain(f"{said}\n"), error.code or 500

    @app.errorhandler(HabitatError)
    def tell(error: HabitatError) -> tuple[Response, int]:
        return jsonify({"error": str(error)}), 409 if isinstance(error, OutdatedError) else 400

    @app.errorhandler(Exception)
    def admit(error: Exception) -> tuple[Response, int]:
        if os.environ.get("HABITAT_DEBUG"):
            raise error
        told = f"habitat cannot do this, by a fault of its own ({type(error).__name__}: {error})"
        return jsonify({"error": f"{told}; all stays as it was."}), 500


def _plain(text: str, kind: str = "text/plain") -> Response:
    return Response(text, content_type=f"{kind}; charset=utf-8")


def _pages(app: Flask, view: View) -> None:
    """Serve the page, its script, what it asks for, and the results as they are on the disk."""

    @app.get("/")
    def page() -> Response:
        return _plain(page_text(view), "text/html")

    @app.get("/what_if.js")
    def script() -> Response:
        return _plain("".join(html.asset(name) for name in SCRIPTS), "text/javascript")

    @app.get("/state")
    def state() -> Response:
        return jsonify(view.whole())

    @app.get("/yard/<int:place>")
    def yard(place: int) -> Response:
        try:
            found = view.yard(place)
        except IndexError:
            abort(404, "there is no such yard")
        if not found["planned"]:
            view.session.plan_ahead(list(view.places)[place])
        return jsonify(found)

    @app.get("/results/<path:name>")
    def results(name: str) -> Response:
        return send_from_directory(view.session.folder.absolute(), name)


def _steps(app: Flask, view: View, draw: Drawer) -> None:
    """Take steps; each is told for which version of the plan it was made."""
    session = view.session

    def asked() -> tuple[dict[str, Any], int]:
        try:
            said = request.get_json(silent=True)
        except RecursionError:  # brackets within brackets
            said = None
        if not isinstance(said, dict) or type(said.get("version")) is not int:
            abort(400, "a JSON object with the version of the plan is wanted")
        return said, said["version"]

    def answer(said: dict[str, Any]) -> Response:
        place = said.get("place")
        mine = {"mine": view.yard(place)} if isinstance(place, int) and 0 <= place < len(view.places) else {}
        return jsonify(view.whole() | mine)

    @app.post("/step")
    def step() -> Response:
        said, version = asked()
        if said.get("do") == "reshape":
            said |= {"ring": view.metres(said.get("ring"))}
        session.step(said, version)
        return answer(said)

    @app.post("/undo")
    def undo() -> Response:
        said, version = asked()
        session.undo(version)
        return answer(said)

    @app.post("/save")
    def save() -> Response:
        said, version = asked()
        session.save(version)
        return answer(said)

    @app.post("/redraw")
    def redraw() -> Response:
        said, version = asked()
        session.redraw(version, draw)
        return answer(said)

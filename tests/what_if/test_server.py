"""Who may come in, and what may be asked: sessions, hosts and origins as OWASP's cheat sheets on session
management, cross-site request forgery and DNS rebinding have them."""

import shutil
import threading

import pytest

from habitat.what_if.server import Door, make_app
from habitat.what_if.session import Session

PORT = 4321
HOST = f"127.0.0.1:{PORT}"
HOME = f"http://{HOST}"


@pytest.fixture(scope="module")
def shared(street, tmp_path_factory):
    return Session(shutil.copytree(street.folder, tmp_path_factory.mktemp("shared") / "results"), street.path)


@pytest.fixture
def session(shared):
    """Return opened results, of which a test may change all but what is on the disk."""
    yield shared
    while len(shared.states) > 1:
        shared.undo(shared.version)


@pytest.fixture
def drawn():
    return []


@pytest.fixture
def door():
    return Door(PORT)


@pytest.fixture
def app(session, door, drawn):
    return make_app(session, door, lambda folder, study, progress: drawn.append(folder))


@pytest.fixture
def stranger(app):
    return app.test_client()


@pytest.fixture
def client(app, door):
    mine = app.test_client()
    mine.get(door.address.removeprefix(HOME), base_url=HOME)
    return mine


def ask(client, path, **more):
    return client.get(path, base_url=HOME, **more)


def post(client, path, body, origin=HOME, **more):
    return client.post(path, base_url=HOME, json=body, headers={"Origin": origin} if origin else {}, **more)


def step(session):
    row = session.state.raw.plantings.query("yard_id == 'A1'").iloc[0]
    edit = {"do": "count", "yard": "A1", "planting": row["planting_id"], "count": int(row["count"]) + 1}
    return edit | {"version": session.version, "place": 0}


def test_the_address_lets_in_once_and_never_again(app, door):
    one, two = app.test_client(), app.test_client()
    path = door.address.removeprefix(HOME)
    first = one.get(path, base_url=HOME)
    assert (first.status_code, first.headers["Location"]) == (303, "/")
    cookie = first.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert ask(one, "/").status_code == 200
    for again in (one, two):
        assert again.get(path, base_url=HOME).status_code == 403
    assert ask(two, "/").status_code == 403
    assert ask(one, "/state").status_code == 200


@pytest.mark.parametrize("path", ["/", "/state", "/yard/0", "/what_if.js", "/results/plan.gpkg", "/nowhere"])
def test_without_the_cookie_nothing_is_told(stranger, door, path):
    stranger.set_cookie(door.cookie, "guessed", domain="127.0.0.1")
    got = ask(stranger, path)
    assert got.status_code == 403
    assert "address that the terminal shows" in got.text
    assert ask(stranger, "/enter/guessed").status_code == 403
    assert ask(stranger, "/enter/gu%C3%A9ss").status_code == 403


@pytest.mark.parametrize(
    "host", ["evil.example:4321", "127.0.0.1:80", "127.0.0.1", "localhost.evil.example:4321"]
)
def test_another_host_name_is_refused(client, session, host):
    headers = {"Host": host}
    assert client.get("/state", base_url=HOME, headers=headers).status_code == 403
    headers |= {"Origin": f"http://{host}"}
    assert client.post("/step", base_url=HOME, json=step(session), headers=headers).status_code == 403
    assert len(session.states) == 1


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "", f"https://{HOST}", "http://127.0.0.1:80"]
)
def test_another_origin_changes_nothing(client, session, origin):
    for path in ("/step", "/undo", "/save", "/redraw"):
        assert post(client, path, step(session), origin=origin).status_code == 403
    assert len(session.states) == 1


def test_every_answer_is_sealed(client, stranger):
    for got in (ask(client, "/"), ask(client, "/state"), ask(stranger, "/"), ask(client, "/nowhere")):
        policy = got.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self'" in policy
        assert "frame-ancestors 'none'" in policy
        assert got.headers["Cache-Control"] == "no-store"
        assert got.headers["X-Content-Type-Options"] == "nosniff"


def test_steps_and_undo_by_the_page(client, session):
    got = post(client, "/step", step(session)).get_json()
    assert got["dirty"]
    assert got["mine"]["id"] == "A1"
    assert got["version"] == session.version
    got = post(client, "/undo", {"version": session.version}).get_json()
    assert not got["dirty"]
    assert len(session.states) == 1


def test_what_makes_no_sense_is_answered_in_words(client, session):
    got = post(client, "/step", step(session) | {"count": -3})
    assert (got.status_code, "a number from 0" in got.get_json()["error"]) == (400, True)
    assert post(client, "/undo", {"version": session.version}).status_code == 400
    for body in ({}, [], {"version": "1"}, {"version": True}):
        assert post(client, "/step", body).status_code == 400
    ring = {"version": session.version, "do": "reshape", "yard": "A1", "bed": "x", "ring": "round"}
    assert post(client, "/step", ring).status_code == 400
    assert ask(client, "/yard/99").status_code == 404
    too_long = {"version": session.version, "do": "swap", "plant": "x" * 200_000}
    assert post(client, "/step", too_long).status_code in (400, 413)
    assert len(session.states) == 1


NO_SENSE = {
    "lists": "[" * 40_000,
    "objects": '{"version":' * 8_000,
    "no number": '{"version": NaN}',
    "bytes": b"\xff\xfe",
    "digits": "9" * 5_000,
}


@pytest.mark.parametrize("raw", NO_SENSE.values(), ids=[*NO_SENSE])
def test_json_of_no_sense_is_no_fault_of_ours(client, raw):
    more = {"content_type": "application/json", "headers": {"Origin": HOME}}
    got = client.post("/step", base_url=HOME, data=raw, **more)
    assert (got.status_code, "a JSON object" in got.text) == (400, True)


NO_NUMBERS = {
    "huge": 10**400,
    "huge below 0": -(10**400),
    "nan": float("nan"),
    "infinite": float("inf"),
    "text": "one",
    "list": [1],
    "object": {},
}


@pytest.mark.parametrize("number", NO_NUMBERS.values(), ids=[*NO_NUMBERS])
@pytest.mark.parametrize(
    ("do", "key"), [("count", "count"), ("move", "east_m"), ("reach", "median_m"), ("reshape", "ring")]
)
def test_numbers_of_no_sense_are_answered_in_words(client, session, do, key, number):
    row = session.state.raw.plantings.query("yard_id == 'A1'").iloc[0]
    ids = {"yard": "A1", "planting": row["planting_id"], "bed": row["bed_id"], "north_m": 0}
    value = [[number, 0], [9, 9], [0, 9]] if key == "ring" else number
    edit = {"do": do, "butterfly": "Danaus plexippus", key: value, "version": session.version} | ids
    got = post(client, "/step", edit)
    assert got.status_code == 400, got.text
    assert got.get_json()["error"]
    assert len(session.states) == 1


def test_results_that_somebody_else_made_ask_nothing_of_the_page(client, session):
    (session.folder / "page.html").write_text("<script>fetch('/state')</script>", encoding="utf-8")
    assert "connect-src 'none'" in ask(client, "/results/page.html").headers["Content-Security-Policy"]
    assert "connect-src 'self'" in ask(client, "/").headers["Content-Security-Policy"]


def test_files_of_results_only_from_their_folder(client, session):
    assert ask(client, "/results/run.json").status_code == 200
    (session.folder.parent / "secret.txt").write_text("mine", encoding="utf-8")
    for path in ("/results/../secret.txt", "/results/%2e%2e/secret.txt", "/results//etc/passwd"):
        assert ask(client, path).status_code in (400, 404, 308)


def test_who_looks_while_others_step_and_undo_sees_one_state(client, session):
    """Each look is at a version that was whole: steps and undoing go on in other threads meanwhile."""
    seen, done = [], threading.Event()

    def look():
        while not done.is_set():
            seen.append(ask(client, "/state"))
            seen.append(ask(client, "/yard/0"))

    threads = [threading.Thread(target=look) for _ in range(2)]
    for thread in threads:
        thread.start()
    for _ in range(8):
        session.step(step(session), session.version)
        session.undo(session.version)
    done.set()
    for thread in threads:
        thread.join()
    assert {got.status_code for got in seen} == {200}


def test_two_windows_do_not_change_the_plan_unseen(client, session):
    """Of two steps made for the same version at the same time one is taken; the other is told to look."""
    edit, got = step(session), []

    def go():
        got.append(post(client, "/step", edit).status_code)

    threads = [threading.Thread(target=go) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(got) == [200, 409]
    assert len(session.states) == 2
    late = post(client, "/step", edit)
    assert "in another window" in late.get_json()["error"]


def test_drawing_anew_wants_all_saved_and_opens_the_results_again(client, session, drawn):
    """The last but one, since it changes what is on the disk."""
    post(client, "/step", step(session))
    assert post(client, "/redraw", {"version": session.version}).status_code == 400
    assert not post(client, "/save", {"version": session.version}).get_json()["dirty"]
    assert session.saved is session.state
    before = session.base
    assert post(client, "/redraw", {"version": session.version}).status_code == 200
    session.work.join(60)
    assert drawn == [session.folder]
    assert session.base is not before
    assert ask(client, "/state").get_json()["busy"]["words"] == ""


def test_a_fault_of_our_own_is_admitted_and_nothing_is_lost(client, session, monkeypatch):
    monkeypatch.setattr("habitat.what_if.session.stepped", lambda *_: 1 / 0)
    got = post(client, "/step", step(session))
    assert got.status_code == 500
    assert "fault of its own (ZeroDivisionError" in got.get_json()["error"]
    assert len(session.states) == 1

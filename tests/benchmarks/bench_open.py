"""How long the steps of ``habitat open`` take: ``python bench_open.py DIR``, DIR being results of the demo.

Each step goes by HTTP to a server in this process, as the page sends it, and the answer is read whole; none
is saved. With ``--browser`` a bed is moved in headless Chromium, from the tap to the painted answer.
"""

import argparse
import json
import statistics
import sys
import tempfile
import threading
import time
import urllib.request
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from habitat.what_if.listening import listen_on
from habitat.what_if.server import Door, make_app
from habitat.what_if.session import Session
from tests.report.browser import browser

TIMES = 5
LOOK_S = 2.0
"""A person looks at a yard for longer before letting it join: judgement."""


class Asker:
    """Asks a server as the page does."""

    def __init__(self, door: Door) -> None:
        self.home = door.address.partition("/enter/")[0]
        self.jar = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        self.jar.open(door.address).read()
        self.version = json.loads(self.jar.open(f"{self.home}/state").read())["version"]

    def post(self, path: str, body: dict) -> tuple[float, float]:
        """Return the seconds until the whole answer is there, and the processor time of this process [s]."""
        data = json.dumps(body | {"version": self.version}).encode()
        headers = {"Origin": self.home, "Content-Type": "application/json"}
        start, worked = time.perf_counter(), time.process_time()
        told = self.jar.open(urllib.request.Request(self.home + path, data, headers)).read()
        took = time.perf_counter() - start, time.process_time() - worked
        self.version = json.loads(told)["version"]
        return took

    def look(self, place: int) -> None:
        """Open a yard, and look at it for as long as it takes to read what stands there."""
        self.jar.open(f"{self.home}/yard/{place}").read()
        time.sleep(LOOK_S)


def steps(session: Session, k: int) -> dict[str, dict]:
    """Return a step of each kind, in another yard for each k."""
    yards, raw = session.base.layers.yards, session.base.raw
    planned = set(raw.plantings["yard_id"])
    members = [y for y in yards.loc[yards["role"] == "member", "yard_id"] if y in planned]
    others = {role: [*yards.loc[yards["role"] == role, "yard_id"]] for role in ("candidate", "other")}
    yard = members[7 * k + 3]
    rows, beds = raw.plantings[raw.plantings["yard_id"] == yard], raw.beds[raw.beds["yard_id"] == yard]
    bed = beds["bed_id"].iloc[0]
    keys, place = rows["planting_id"].tolist(), [*yards["yard_id"]].index(yard)
    mine = {"yard": yard, "place": place}
    return {
        "move a bed": mine | {"do": "move", "bed": bed, "east_m": 0.5, "north_m": 0.25},
        "change a count": mine
        | {"do": "count", "planting": keys[0], "count": int(rows["count"].iloc[0]) + 3},
        "swap a plant": mine | {"do": "swap", "planting": keys[1 % len(keys)], "plant": "swamp milkweed"},
        "strike a planting": mine | {"do": "strike", "planting": keys[-1]},
        "strike a bed": mine | {"do": "strike-bed", "bed": bed},
        "drop a member": mine | {"do": "drop"},
        "a candidate joins": {"do": "join", "yard": others["candidate"][9 * k + 2]},
        "a yard without a plan joins": {"do": "join", "yard": others["other"][11 * k + 5]},
        "another reach": {"do": "reach", "butterfly": session.base.request.wishes[k], "median_m": 321.0},
    }


def by_http(session: Session, door: Door) -> None:
    """Print the median and the longest of each step."""
    asker, found = Asker(door), {}
    for k in range(TIMES):
        for name, body in steps(session, k).items():
            if (
                name == "reshape a bed"
            ):  # the page sends units of the map; a reshaped bed is made here instead
                continue
            found.setdefault(name, []).append(asker.post("/step", body))
            found.setdefault("undo", []).append(asker.post("/undo", {}))
        body = steps(session, k)["a yard without a plan joins"]
        asker.look([*session.base.layers.yards["yard_id"]].index(body["yard"]))
        found.setdefault("the same, looked at before", []).append(asker.post("/step", body))
        asker.post("/undo", {})
    for name, times in found.items():
        told(name, [seconds for seconds, _ in times])
        print(f"{'  of it CPU':30s} median {statistics.median(cpu for _, cpu in times):5.2f} s")


def told(name: str, times: list[float]) -> None:
    """Print the median and the longest."""
    print(f"{name:30s} median {statistics.median(times):5.2f} s, longest {max(times):5.2f} s")


def in_browser(session: Session, door: Door, folder: Path) -> None:
    """Print the seconds from a tap to the painted answer: a bed moved, and put back."""
    script = (
        "const [place, done] = arguments; openYard(place).then(async () => {"
        "chooseBed(plan.yards[place].handles[0].bed); nudge(5, 2);"
        "const start = performance.now(); setBed(); await queue;"
        "requestAnimationFrame(() => setTimeout(async () => {"
        "const took = performance.now() - start; await act('/undo', {}); done(took / 1000); })); });"
    )
    yards = session.base.layers.yards
    planned = set(session.base.raw.beds["yard_id"])
    places = [
        k
        for k, (y, r) in enumerate(zip(yards["yard_id"], yards["role"], strict=True))
        if r == "member" and y in planned
    ]
    with browser(folder, 390, 844, phone=True) as driver:
        driver.set_script_timeout(120)
        driver.get(door.address)
        time.sleep(3)
        took = [
            driver.execute_async_script(script, place) for place in places[3 :: len(places) // TIMES][:TIMES]
        ]
    told("a bed moved, in the browser", took)


def main() -> None:
    """Open results and print a line for each step."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--browser", action="store_true")
    given = parser.parse_args()
    start = time.perf_counter()
    session, server = Session(given.folder), listen_on(0)
    print(f"{'open':30s} {time.perf_counter() - start:5.2f} s")
    door = Door(server.port)
    server.app = make_app(session, door, lambda *_: None)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    with tempfile.TemporaryDirectory() as name:
        if given.browser:
            in_browser(session, door, Path(name))
        else:
            by_http(session, door)
    server.shutdown()


if __name__ == "__main__":
    main()

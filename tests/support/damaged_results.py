"""Damaged results of an earlier run, and what reads them: ``--after``, ``compare``, ``accept``, forms."""

import json
import math
import random
import sqlite3
from contextlib import closing
from dataclasses import replace

from habitat.errors import HabitatError
from habitat.layers.formats.csv_table import read_csv
from habitat.planting.settled import Carried, Round, fingerprints, living_of, marks_of
from habitat.planting.types import Drawn
from habitat.report.compare.runs import compare_runs
from habitat.report.compare.words import comparison_page
from habitat.report.lists.plantings import write_plantings
from habitat.report.lists.season import TO_FILL, season_table
from habitat.report.words.en import english
from habitat.report.written import naming_edits, write_list
from habitat.revision.deciding import decide
from habitat.revision.earlier import kept_plans, read_earlier, settled_layers
from habitat.revision.listed import read_list, wanted_of
from habitat.revision.season import read_season
from tests.report.small_plan import small_plan
from tests.support.tiny_town import write_for_next

JUNK = (
    *(None, "", 0, -1, 1e308, math.nan, math.inf, 2**70, "x", "<script>", True, "9" * 5000, "a|b", "1|2|3|x"),
    *([], {}, [1], {"a": 1}),
)
"""In place of values in JSON."""

CELLS = (None, "", -1, 0, 1e308, math.inf, "x", b"\0\1", "<b>", 2**62, "nan", "12,5", "all", "'=1+1")
"""In place of cells of tables."""

HEAD = b"GP\0\1\x69\x7f\0\0"
SHAPES = (None, b"", HEAD, HEAD + b"\1\1\0\0\0" + b"\xff" * 16, HEAD + b"\1\7\0\0\0\0\0\0\0")
"""In place of shapes: none, cut off, a point that is no number, an empty collection (OGC 12-128, 2.1.3)."""

LAYERS = ("yards", "beds", "plantings", "plant_points", "yard_results", "existing_plants", "yard_butterflies")
READ_BY = {
    "run.json": ("after", "compare", "accept"),
    "for_next_run.json": ("after",),
    "plan.gpkg": ("after", "compare", "accept"),
    "decisions.csv": ("after", "accept"),
    "plantings.csv": ("list",),
    "season.csv": ("form",),
}
"""Who reads a file of results."""


def damaged_json(data, rng):
    """Return JSON with some values lost, renamed or of no sense."""
    whole = json.loads(data)
    for _ in range(rng.choice((1, 1, 3))):
        at, key = [whole], 0
        for _ in range(rng.randrange(1, 7)):
            inner = at[key]
            if not (isinstance(inner, dict | list) and inner):
                break
            at, key = inner, rng.choice([*inner]) if isinstance(inner, dict) else rng.randrange(len(inner))
        how = rng.randrange(4)
        if how == 0:
            del at[key]
        elif how == 1 and isinstance(at, dict):
            at[f"{key}'"] = at.pop(key)
        else:
            at[key] = rng.choice(JUNK)
    return json.dumps(whole).encode()


def damage_package(path, rng):
    """Change rows, columns and shapes of a GeoPackage as any program that knows SQLite can."""
    with closing(sqlite3.connect(path)) as base, base:
        for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            base.execute(f'DROP TRIGGER "{name}"')  # they call functions that only a GIS has
        for _ in range(rng.choice((1, 1, 3))):
            layer, every = rng.choice(LAYERS), rng.randrange(1, 4)
            columns = [row[1] for row in base.execute(f'PRAGMA table_info("{layer}")')]
            column, how = rng.choice(columns or ["fid"]), rng.randrange(8)
            value = rng.choice(SHAPES if column == "geom" else CELLS)
            try:
                if how == 0:
                    base.execute(f'ALTER TABLE "{layer}" DROP COLUMN "{column}"')
                elif how == 1:
                    base.execute(f'DROP TABLE "{layer}"')
                elif how == 2:
                    base.execute(f'DELETE FROM "{layer}" WHERE fid % ? = 0', (every,))
                elif how == 3:
                    mine = ", ".join(f'"{c}"' for c in columns if c != "fid")
                    base.execute(f'INSERT INTO "{layer}" ({mine}) SELECT {mine} FROM "{layer}" LIMIT 2')
                else:
                    base.execute(f'UPDATE "{layer}" SET "{column}" = ? WHERE fid % ? = 0', (value, every))
            except (sqlite3.Error, OverflowError):
                continue


def damaged_table(data, rng):
    """Return a CSV file with cells of no sense, rows twice, cells and rows lost, a quote left open."""
    rows = [row.split(",") for row in data.decode("utf-8-sig").split("\r\n")]
    for _ in range(rng.choice((1, 3, 10))):
        r = rng.randrange(len(rows))
        c, how = rng.randrange(len(rows[r]) or 1), rng.randrange(6)
        if how == 0 and len(rows) > 2:
            del rows[r]
        elif how == 1:
            rows.insert(r, [*rows[rng.randrange(len(rows))]])
        elif how == 2:
            rows[r] = rows[r][:c]
        else:
            rows[r][c : c + 1] = [f'"{rows[r][c:][:1]}' if how == 3 else str(rng.choice(CELLS))]
    return "\r\n".join(map(",".join, rows)).encode()


class Results:
    """Results of an invented street in a folder, and everything that reads them."""

    def __init__(self, home):
        plan = small_plan(home)
        about = plan.run_info | {"crs": plan.layers.crs.to_string()}
        carried = Carried(tuple(plan.yard_results["yard_id"]), (Round(),))
        self.plan = replace(plan, carried=carried, run_info=about)
        self.folder, self.good = (write_for_next(self.plan, home / name) for name in ("damaged", "good"))
        for folder in (self.folder, self.good):
            write_plantings(self.plan, folder / "plantings.csv")
            (folder / "season.csv").write_text(self._season(), encoding="utf-8-sig", newline="")
            decide(folder, yards=["0007", "0013"], status="accepted", date="2026-05-01")
            write_list(folder)
        self.drawn = Drawn(self.plan.beds, self.plan.plantings, self.plan.plant_points)

    def _season(self):
        rng, table = random.Random(1), season_table(self.plan)
        for column in TO_FILL:
            table[column] = [rng.choice(("", "1", "all", "no", "2026", "3")) for _ in range(len(table))]
        return table.to_csv(index=False, lineterminator="\r\n")

    def use(self, name):
        """Have all that read a file read it; return how many of them refused."""
        return sum(self._refused(getattr(self, f"_{way}")) for way in READ_BY[name])

    def _refused(self, way):
        try:
            way()
        except HabitatError:
            return True
        return False

    def _after(self):
        with naming_edits(self.folder):  # as ``habitat.run`` and ``ready_to_redraw`` have it
            self._follow()

    def _follow(self):
        earlier = read_earlier(self.folder, self.plan.study, self.plan.layers)
        layers, notes = settled_layers(self.plan.layers, earlier)
        kept = kept_plans(earlier, earlier.kept)
        assert len(kept.drawn.beds) <= len(earlier.tables["beds"])
        assert len(layers.yards) == len(self.plan.layers.yards)
        assert all(map(english(), (*notes, *earlier.decisions.notes)))

    def _compare(self):
        assert comparison_page(compare_runs(self.folder, self.good)).startswith("<!doctype html>")

    def _accept(self):
        decide(self.folder, yards=["0012"], members=True, status="accepted", date="2026-05-02")

    def _list(self):
        table, notes = read_list(self.folder / "plantings.csv")
        wanted, more = wanted_of(table, "plantings.csv", fingerprints(self.drawn))
        assert all(0 <= row["count"] <= 100_000 for row in wanted.values())
        assert all(map(english(), (*notes, *more)))

    def _form(self):
        table = read_csv(self.folder / "season.csv", None)[0]
        existing, rows = self.plan.existing_plants, self.plan.plantings
        marks = marks_of(fingerprints(self.drawn), existing)
        counts = dict(zip(rows["planting_id"], rows["count"], strict=True))
        counts |= living_of(existing).groupby("planting_id").size().to_dict()
        found = read_season(table, marks, counts, dict.fromkeys(counts, "0007"))
        for key, one in found.told.items():
            assert 0 <= (one.alive or 0) <= max(counts[key], one.planted or 0)
        assert all(map(english(), found.notes))


def use_damaged(name, home, count, seed):
    """Read results with many damaged copies of a file; return how many were read in all ways, and refused.

    Raises
    ------
    Exception
        Of any kind but HabitatError, with the number of the copy that brought it about.
    """
    from tests.inputs.test_damaged_files import mutate  # which imports this

    results, rng, ends = Results(home), random.Random(f"{seed} results {name}"), {"read": 0, "refused": 0}
    whole = {path: path.read_bytes() for path in results.folder.iterdir()}
    victim = results.folder / name
    for number in range(count):
        if rng.random() < 0.3:
            victim.write_bytes(mutate(whole[victim], rng))
        elif name.endswith(".json"):
            victim.write_bytes(damaged_json(whole[victim], rng))
        elif name.endswith(".gpkg"):
            damage_package(victim, rng)
        else:
            victim.write_bytes(damaged_table(whole[victim], rng))
        try:
            refused = results.use(name)
        except Exception as error:
            raise AssertionError(f"copy {number} of {name} ended in {error!r}") from error
        ends["refused" if refused else "read"] += 1
        for path, data in whole.items():
            path.write_bytes(data)
    return ends

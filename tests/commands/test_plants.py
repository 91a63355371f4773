"""Looking plants up."""

import json
import re

from typer.testing import CliRunner

from habitat.commands.app import app
from tests.commands.calls import call
from tests.support.prague import write_study


def test_plants_by_eater_are_the_hosts():
    rows = json.loads(call("plants", "--eaten-by", "monarch", "--json"))["rows"]
    assert {"Asclepias incarnata", "Asclepias syriaca", "Asclepias tuberosa"} <= {r["plant"] for r in rows}
    assert all(r["plant"].startswith("Asclepias") for r in rows)


def test_plants_in_shade_and_bloom():
    rows = json.loads(call("plants", "--shade", "--bloom", "5", "--json"))["rows"]
    assert rows
    assert len(rows) < len(json.loads(call("plants", "--json"))["rows"])


def test_one_plant_tells_what_is_published_and_what_is_memory():
    rows = json.loads(call("plants", "swamp milkweed", "--json"))["rows"]
    sources = {r["field"]: r["source"] for r in rows}
    assert "memory" in " ".join(sources.values())
    assert any("NRCS" in s for s in sources.values())


def test_looking_up_tells_own_rows_that_were_set_aside(tmp_path):
    path = write_study(tmp_path, planned=6)
    (tmp_path / "own.csv").write_text(
        "scientific_name,height_m,region\nAsclepias incarnata,1.3,elsewhere\n", encoding="utf-8"
    )
    path.write_text(
        path.read_text(encoding="utf-8") + '\n[knowledge]\nplants = "own.csv"\n', encoding="utf-8"
    )
    result = CliRunner().invoke(app, ["plants", "common milkweed", "--study", str(path)])
    assert result.exit_code == 0
    assert "own.csv: 1 row set aside, for region 'elsewhere'" in result.stderr
    assert "set aside" not in result.stdout


def test_no_raw_column_name_is_read_by_people():
    """JSON keeps the names of columns for programs."""
    told = call("plants", "swamp milkweed")
    assert "sun, best from" in told
    assert not re.search(r"^\s*[a-z]+_[a-z_]+ ", told, re.MULTILINE)

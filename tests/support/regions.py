"""The tables of every region as plain frames, and a second, plain reading of regions/ABOUT.md."""

import json
import tomllib
from importlib.resources import files
from pathlib import Path

import pandas as pd
from shapely.geometry import shape

KNOWLEDGE = Path(str(files("habitat.knowledge")))
SHARED = KNOWLEDGE / "shared"
REFERENCE = Path(__file__).parent.parent / "reference"
FOLDERS = {
    tomllib.loads((f / "region.toml").read_text(encoding="utf-8"))["id"]: f
    for f in sorted((KNOWLEDGE / "regions").iterdir())
    if f.is_dir()
}
STATES = {
    f["properties"]["state"]: shape(f["geometry"])
    for f in json.loads((SHARED / "state_outlines.geojson").read_text(encoding="utf-8"))["features"]
}
SPECIFIC = {"family": 0, "genus": 1, "species": 2}


def read(path):
    """Return a table as text, blanks as ""."""
    return pd.read_csv(path, dtype=str, keep_default_na=False)


def table(region, name):
    return read(FOLDERS[region] / f"{name}.csv")


def about(region):
    return tomllib.loads((FOLDERS[region] / "region.toml").read_text(encoding="utf-8"))


def parts(cell):
    """Return the parts of a list in a cell."""
    return [p.strip() for p in cell.split(";") if p.strip()]


def slot(half_month):
    """Return the number (0-23) of a half-month such as 05a."""
    month, half = int(half_month[:2]), half_month[2:]
    assert half in ("a", "b"), half_month
    assert 1 <= month <= 12, half_month
    return 2 * (month - 1) + (half == "b")


def span(first, length):
    return {(first + i) % 24 for i in range(length)}


def window(text):
    """Return the half-months of one window, over the turn of the year if it runs backwards."""
    first, last = text.split("-")
    return span(slot(first), (slot(last) - slot(first)) % 24 + 1)


def windows(cell):
    return set().union(*(window(w) for w in parts(cell)))


def brood_numbers(cell):
    """Return the broods named by each part of a cell such as 1-3;3."""
    out = []
    for part in parts(cell):
        first, _, last = part.partition("-")
        out.append(set(range(int(first), int(last or first) + 1)))
    return out


def half_months_of(plant, part, season_start):
    """Return the half-months in which a part of a plant is there, by the rule in regions/ABOUT.md."""
    first_bloom = 2 * (int(plant["bloom_start_month"]) - 1)
    bloom = (2 * int(plant["bloom_end_month"]) - 1 - first_bloom) % 24 + 1
    leaf = plant["leaf_windows"].split("-")
    start, length = slot(leaf[0]), (slot(leaf[1]) - slot(leaf[0])) % 24 + 1
    if part in ("leaf", "stem"):
        return span(start, length)
    if part == "new_growth":
        if plant["leaf_habit"] == "evergreen":
            return span(2 * (season_start - 1) + 1, 7)
        return span(start, 6) if plant["leaf_habit"] == "deciduous" else span(start, max(1, length - 3))
    if part == "bud":
        buds = span(first_bloom - 2, bloom + 1)
        return buds if plant["life_span"] == "woody" else buds & span(start, length)
    if part in ("flower", "catkin"):
        return span(first_bloom, bloom)
    return span(first_bloom + 2, bloom + 2) if part == "pod" else span(0, 24)


def belongs(plant, rank, taxon, *, only_herbaceous=False):
    """Return whether a plant is of a taxon."""
    if only_herbaceous and plant["life_span"] == "woody":
        return False
    name = plant["scientific_name"]
    return {"species": name, "genus": name.split()[0], "family": plant["family"]}[rank] == taxon


def hosts_by_plant(region):
    """Return (kind, plant) -> the host row that counts: species before genus before family."""
    plants, out = table(region, "plants").to_dict("records"), {}
    rows = sorted(table(region, "hosts").to_dict("records"), key=lambda r: SPECIFIC[r["rank"]])
    for row in rows:
        herbs = row["only_herbaceous"] == "true"
        for plant in plants:
            if belongs(plant, row["rank"], row["host_taxon"], only_herbaceous=herbs):
                out[(row["scientific_name"], plant["scientific_name"])] = row
    return out

"""Planting rules by name, in SI units, from tests/reference/planting_rules.csv.

Each row names its source and whether that is an agency, extension, press or memory. Pages were read through
stored copies, often an excerpt: a figure is only as good as that. No wording is copied. ``value_si_low`` and
``value_si_high`` are the printed values in SI units."""

import csv
from pathlib import Path

TABLE = Path(__file__).parents[1] / "reference" / "planting_rules.csv"


def rules():
    """Return the rules by id: dicts of the columns."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def least(name):
    """Return the least value of a rule in SI units."""
    return float(rules()[name]["value_si_low"])


def most(name):
    """Return the greatest value of a rule in SI units."""
    return float(rules()[name]["value_si_high"])

"""How heavy seed is, so that it can be bought by weight."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

TABLE = Path(__file__).parent / "shared" / "seed_weights.csv"


@cache
def seeds_per_gram() -> dict[str, float]:
    """Return how many seeds a gram holds, by scientific name, where that is known without doubt.

    Dust-like seed is left out, since it is sown by surface; so are figures whose copies differ or that look
    wrong (column ``doubt`` of the table says why).

    References
    ----------
    USDA NRCS, PLANTS database, characteristics by species: seeds per pound.

    Examples
    --------
    >>> seeds_per_gram()["Andropogon gerardii"]
    318.0
    """
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if not row["doubt"]]
    return {row["scientific_name"]: float(row["seeds_per_gram"]) for row in rows}

"""READ_ME.txt: what each file of the results is."""

from __future__ import annotations

from pathlib import Path

from habitat.report.package.tables import TABLES
from habitat.report.plan import Plan
from habitat.report.words.text import plain

FILES = (
    ("page.html", "everything on one page; opens in any browser without a network, on a phone too"),
    ("sheets/", "a sheet per yard to print (PDF), and all of them in one file, all-yards.pdf"),
    ("maps/", "maps as pictures"),
    ("shopping.csv", "what to buy; opens in a spreadsheet"),
    ("lists/", "lists to print: what to buy, what each household picks up; an empty form to count on"),
    (
        "lists/plant-schedule.csv",
        "per yard: trees, shrubs, tall and low plants; count, size in metres",
    ),
    ("calendar.ics", "when to do what; opens in a calendar program"),
    ("plan.gpkg", "the GIS package (OGC GeoPackage): all tables and shapes; layers are listed below"),
    ("styles/", "how the layers may be drawn, as OGC Styled Layer Descriptors; choose one per layer"),
    ("geojson/", "the same layers as GeoJSON, in longitude and latitude"),
    ("plan.dxf", "a drawing of yards, beds and plants for drawing programs, in metres"),
    ("rasters/", "sun hours and fit of plants as cloud-optimised GeoTIFF"),
    ("run.json", "versions, settings and headline figures, for programs"),
    ("timings.json", "how long each stage took, and how much memory"),
    ("files.json", "all these files with their SHA-256: by it a later run knows what you have edited"),
)

AUDIENCE = {
    "group": "For the group only. These files name yards and addresses: do not publish them or pass them on.",
    "public": "For everybody. Names, addresses, notes and parcel numbers are left out, and so are yards "
    "whose households did not agree to be shown. Yard numbers hold for this set of files only.",
}

CAUTIONS = (
    "Parcel lines are not a survey. Before anybody digs, have buried lines marked by the utility locating "
    "service. Keep sight lines at corners and drives. Some plants are toxic if eaten: the sheets say which. "
    "Use no insecticide on or near these plants and buy untreated stock. Local codes, and the advice of "
    "licensed people, go before anything written here."
)


def write_read_me(plan: Plan, folder: Path) -> None:
    """Write READ_ME.txt, which tells of the files that are there."""
    head = plan.study.study
    date = head.date.isoformat() if head.date else "without a date"
    last = ("timings.json", "files.json")  # written when all else is done
    there = [(name, what) for name, what in FILES if name in last or (folder / name).exists()]
    wide = max((len(name) for name, _ in there), default=0) + 2
    lines = [
        f"{plain(head.name, 300)}, {date}",
        "",
        AUDIENCE[plan.study.report.audience],
        "",
        *(f"{name:<{wide}}{what}" for name, what in there),
        "",
        "Layers of plan.gpkg",
    ]
    for table in TABLES:
        lines += ["", f"{table.name}: {table.title}"]
        lines += [f"  {n}{f' [{u}]' if u else ''}: {what}" for n, _, u, what in table.columns]
    lines += ["", CAUTIONS]
    (folder / "READ_ME.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")

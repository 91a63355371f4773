"""Bloom by month, against the plants table of the region."""

from habitat.report.handover.bloom import COLOURS, bloom_strips
from habitat.report.sheets.facts import FactFinder
from tests.report.small_plan import small_plan


def test_bloom_is_told_by_month_and_colour(tmp_path):
    """Months and colours are those of the tables: common names apart, what the region's plants table says."""
    plan = small_plan(tmp_path)
    known = plan.knowledge.plants
    rows = {r["name"]: r for bed in bloom_strips(FactFinder(plan).of("0007")) for r in bed["rows"]}
    mine = plan.plantings[plan.plantings["yard_id"] == "0007"]
    assert set(rows) == set(mine["common_name"])
    for planting in mine.itertuples():
        row, cell = rows[planting.common_name], known["flower_color"][planting.plant]
        first, last = (int(known[f"bloom_{end}_month"][planting.plant]) for end in ("start", "end"))
        if cell == "none":
            assert (row["runs"], row["told"]) == ([], "no flower to see")
        else:
            assert row["runs"] == [[first - 1, last]]
            assert row["told"].split(" and ") == cell.split(";")[:2]
            assert row["colours"] == [COLOURS[c] for c in cell.split(";")[:2]]

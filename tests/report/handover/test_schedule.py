"""The planting schedule against the tables of the plan."""

from habitat.report.handover.schedule import HEADINGS, schedule_rows
from habitat.report.sheets.facts import FactFinder
from habitat.report.words.numbers import Units
from tests.report.small_plan import small_plan


def test_a_row_tells_number_names_count_and_size_when_grown(tmp_path):
    plan = small_plan(tmp_path)
    rows = schedule_rows(FactFinder(plan).of("0007"), Units("metric"))
    assert {len(row) for row in rows} == {len(HEADINGS)}
    assert [int(row[0]) for row in rows] == sorted(int(row[0]) for row in rows)
    table = plan.plantings[plan.plantings["yard_id"] == "0007"].set_index("plant")
    known = plan.knowledge.plants
    assert {row[1] for row in rows} == set(table.index)
    for _, plant, common, count, _, _, size in rows:
        assert (common, int(count)) == (table["common_name"][plant], table["count"][plant])
        metres = [
            float(x.removesuffix("cm").removesuffix("m")) / (100 if "cm" in x else 1)
            for x in size.split(" x ")
        ]
        for told, grown in zip(metres, (known["height_m"][plant], known["spread_m"][plant]), strict=True):
            assert abs(told - grown) <= 0.05

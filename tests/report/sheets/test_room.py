"""What the text of a page takes, told before it is set: held to pages as they come from the typesetter."""

import pytest

from habitat.report.sheets.data import sheet_data, sized
from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.files import sheet_setter
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.room import SPARE_MM, rooms_left
from habitat.report.typeset import MARGIN_MM, PAGE_MM, head
from tests.report.small_plan import small_plan


@pytest.mark.parametrize(("units", "paper"), [("us", "letter"), ("metric", "a4")])
@pytest.mark.parametrize("text_pt", [11.0, 9.0])
def test_text_takes_no_more_than_was_told(tmp_path, units, paper, text_pt):
    """Drawings of 60 and 70 mm: what is left of each page, and they, are at least the room told."""
    plan = small_plan(tmp_path, report={"units": units, "paper": paper})
    facts = FactFinder(plan).of("0012")
    sheet = sheet_data(facts, lay_out(facts))
    sheet |= sized(facts, lay_out(facts), [text_pt] * 3, (60.0, 70.0))
    setter = sheet_setter(plan)
    setter.pdf({**head(plan, "x"), "sheets": [sheet]})
    wide, high = PAGE_MM[paper]
    rooms = rooms_left(sheet, (text_pt, text_pt), (wide - 2 * MARGIN_MM, high))
    heights = sheet["room"], sheet["beds"]["height"]
    for room, height, left, spare in zip(rooms, heights, setter.ask("<left>"), SPARE_MM, strict=False):
        assert 0.0 <= height + left - room <= 3 * spare

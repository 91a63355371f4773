"""What a sheet leaves to the page, so that it stays short enough to be read."""

import re

import pypdfium2
import pytest

from habitat.report.sheets.data import sheet_data, sized
from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.files import set_sheet, sheet_setter
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.short import MOST_WORDS, shortened, words_set
from habitat.report.typeset import head
from tests.report.small_plan import small_plan


def whole_sheet(plan, yard):
    """Return all that could be set for a yard, and what every document carries."""
    facts = FactFinder(plan).of(yard)
    sheet = sheet_data(facts, lay_out(facts))
    return sheet | sized(facts, lay_out(facts), [11.0, 10.0, 10.0], (90.0, 120.0)), head(plan, sheet["title"])


def words_on_paper(pdf):
    """Return the words of two letters or more on each page, as PDFium reads them."""
    pages = [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(pdf)]
    return [len(re.findall(r"[A-Za-z][A-Za-z'’-]+", text)) for text in pages]


def test_a_long_sheet_is_cut_to_its_words_and_says_so(tmp_path):
    """Thirty cautions more than fit: the first stay, the count of the others is told."""
    whole, top = whole_sheet(small_plan(tmp_path), "0007")
    many = [f"Caution number {k} of those that take a dozen words of room on paper." for k in range(30)]
    short = shortened(whole | {"mind": many}, top)
    kept = short["mind"][:-1]
    assert kept == many[: len(kept)]
    assert 3 <= len(kept) <= 8
    assert short["mind"][-1] == f"{30 - len(kept)} more lines on the page."
    assert shortened(whole | {"mind": many[:1]}, top)["mind"] == many[:1]


@pytest.mark.parametrize("units", ["us", "metric"])
def test_words_are_counted_as_they_stand_on_paper(tmp_path, units):
    plan = small_plan(tmp_path, report={"units": units})
    setter = sheet_setter(plan)
    for yard in ("0007", "0012", "0021"):
        sheet, top = whole_sheet(plan, yard)
        found = sum(words_on_paper(setter.pdf({**top, "sheets": [sheet]})))
        assert found <= words_set(sheet, top) <= found + 15


def test_sheets_of_the_town_have_three_pages_and_few_words(eight_plan):
    """Eight yards of the demo, with beds, cautions and wishes as they come."""
    finder, setter = FactFinder(eight_plan), sheet_setter(eight_plan)
    for yard in finder.yards_with_plans():
        pages = words_on_paper(set_sheet(finder.of(yard), setter))
        assert len(pages) == 3, yard
        assert 300 < sum(pages) <= MOST_WORDS, yard

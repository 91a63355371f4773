"""What a sheet leaves to the page."""

from habitat.report.sheets.data import sheet_data
from habitat.report.sheets.facts import FactFinder
from habitat.report.sheets.measures import lay_out
from habitat.report.sheets.short import shortened
from tests.report.small_plan import small_plan


def test_a_long_sheet_is_cut_to_its_words_and_says_so(tmp_path):
    """Thirty cautions more than fit: the first stay, the count of the others is told."""
    facts = FactFinder(small_plan(tmp_path)).of("0007")
    whole = sheet_data(facts, lay_out(facts))
    many = [f"Caution number {k} of those that take a dozen words of room on paper." for k in range(30)]
    short = shortened(whole | {"mind": many})
    kept = short["mind"][:-1]
    assert kept == many[: len(kept)]
    assert 3 <= len(kept) <= 8
    assert short["mind"][-1] == f"{30 - len(kept)} more lines on the page."
    assert shortened(whole | {"mind": many[:1]})["mind"] == many[:1]

"""What still comes as text."""

from habitat.report.public.text import STILL_TEXT


def test_each_place_of_text_is_listed_once_with_its_reason():
    places = [(text.table, text.column) for text in STILL_TEXT]
    assert len(set(places)) == len(places)
    assert all(len(text.why) > 20 for text in STILL_TEXT)

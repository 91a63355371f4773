"""The voice that says a remark."""

from habitat.remarks import Subject, remark
from habitat.report.words.en import english
from habitat.report.words.say import HIDDEN


def test_a_hidden_yard_is_named_as_one():
    about = Subject(yards=(HIDDEN,))
    assert english()(remark("sun_count_alone", about, sun_h=3.0)).startswith(f"{HIDDEN}: 3 h")

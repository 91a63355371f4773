"""Notes by the month: what begins, what goes on, and nothing twice."""

import datetime as dt

from habitat.report.lists.notes import monthly_notes
from habitat.report.lists.types import Entry


def test_notes_of_a_spring_worked_by_hand():
    """Ask on the 19th of March; water weekly from the 8th of April to the 10th of June; look in May."""
    day = dt.date
    asked = [
        Entry("ask", "Ask for marks", "Call first.", day(2026, 3, 19), day(2026, 3, 19)),
        Entry("water", "Water", "An inch.", day(2026, 4, 8), day(2026, 4, 8), day(2026, 6, 10)),
        Entry("look", "Look", "On leaves.", day(2026, 5, 1), day(2026, 5, 31), every_month=True),
    ]
    notes = monthly_notes(asked, day(2026, 3, 5))
    assert [(n.key, n.start) for n in notes] == [
        ("note-2026-03", day(2026, 3, 5)),  # never before the study's date
        *((f"note-2026-{m:02d}", day(2026, m, 1)) for m in (4, 5, 6)),
    ]
    assert all(n.end == n.start for n in notes)
    assert notes[0].text == "19 March 2026: Ask for marks. Call first."
    assert notes[1].text == "8 April 2026 to 10 June 2026: Water, once a week. An inch."
    assert notes[2].text == "Until 10 June 2026: Water, once a week.\n\nLook. On leaves."
    assert notes[2].title == "May: water; look"
    assert notes[3].text == "Until 10 June 2026: Water, once a week."


def test_a_title_names_three_things_and_counts_the_others():
    day = dt.date(2026, 4, 1)
    many = [Entry(f"{k}", f"Thing {k}", "", day, day) for k in range(5)]
    (note,) = monthly_notes(many, day)
    assert note.title == "April: thing 0; thing 1; thing 2 and 2 more"


def test_a_winter_goes_over_the_turn_of_the_year():
    winter = Entry("rest", "Rest", "", dt.date(2026, 11, 1), dt.date(2027, 2, 28), every_month=True)
    keys = [n.key for n in monthly_notes([winter], dt.date(2026, 1, 1))]
    assert keys == ["note-2026-11", "note-2026-12", "note-2027-01", "note-2027-02"]

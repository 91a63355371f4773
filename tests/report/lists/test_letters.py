"""Letters in own words: fields from a fixed list, text from data as text, faults with file and line."""

from dataclasses import replace

import pypdf
import pytest

from habitat.errors import LayerError, MissingFileError
from habitat.report.lists.letters import (
    FIELDS,
    check_templates,
    filled,
    letter_writer,
    letters_for_spring,
    letters_to_ask,
    letters_to_hand_over,
    template,
)
from habitat.report.lists.walk import walk_table
from habitat.report.words.numbers import money
from habitat.settings.report import ReportSettings
from habitat.study.files import study_files
from tests.report.lists.test_contacts import signed_up
from tests.report.lists.test_walk import asked
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"), study={"contact": "Rosa, 555-0142"})


def own(plan, tmp_path, key, text):
    """Return the plan with a template of the group's own."""
    path = tmp_path / f"{key}.txt"
    path.write_text(text, encoding="utf-8")
    return replace(plan, study=plan.study.changed(report={key: str(path)}))


def test_each_letter_says_what_is_special_and_what_it_costs(plan):
    made = asked(plan, ["9 Kiln Street", "3 Alder Lane"])
    letters = letters_to_ask(made)
    assert [letter.splitlines()[0] for letter in letters] == ["To 3 Alder Lane", "To 9 Kiln Street"]
    assert "Your yard has reason 1." in letters[0]
    assert "Your yard has reason 0." in letters[1]
    costs = made.plantings.groupby("yard_id")["cost"].sum()
    assert f"cost about {money(float(costs[made.invitations['yard_id'][0]]))}" in letters[1]
    assert all("Rosa, 555-0142" in letter and "Dear neighbour" in letter for letter in letters)


def test_a_door_whose_yard_was_not_planned_gets_a_letter_without_figures(plan):
    """Where only some yards are planned, others may be asked all the same."""
    made = asked(plan, ["9 Kiln Street", "3 Alder Lane"])
    first = made.invitations["yard_id"][0]
    tables = {n: getattr(made, n) for n in ("plantings", "yard_results", "beds")}
    made = replace(made, **{n: t[t["yard_id"] != first] for n, t in tables.items()})
    letters = letters_to_ask(made)
    assert [letter.splitlines()[0] for letter in letters] == ["To 3 Alder Lane", "To 9 Kiln Street"]
    assert "Your yard has reason 0." in letters[1]
    assert "cost about" not in letters[1]
    assert "cost about" in letters[0]


def test_doors_that_were_asked_get_no_letter(plan):
    made = asked(plan, ["9 Kiln Street", "3 Alder Lane", "5 Alder Lane"])
    third = made.yards["yard_id"].tolist()[2]
    made = replace(made, invitations=made.invitations.iloc[:2], asked={third: "asked on 2026-04-01"})
    assert len(walk_table(made)) == 3
    assert [one.splitlines()[0] for one in letters_to_ask(made)] == ["To 3 Alder Lane", "To 9 Kiln Street"]


def test_sheets_of_drafts_are_handed_out_and_all_who_take_part_are_reminded(plan):
    status = {"0007": "accepted", "0013": "draft", "0021": "", "0030": "planted"}
    made = replace(plan, yards=plan.yards.assign(status=plan.yards["yard_id"].map(status).fillna("draft")))
    assert [one.splitlines()[0] for one in letters_to_hand_over(made)] == [
        "To 9 Heron Lane",
        "To 7 Heron Lane",
    ]
    assert len(letters_for_spring(made)) == 4
    assert all("811" in one for one in letters_for_spring(made) + letters_to_hand_over(made))


def test_own_words_have_each_field_and_lines_without_an_answer_are_left_out(plan, tmp_path):
    text = "".join(f"{name}: {{{name}}}\n" for name in FIELDS) + "{{as it is}}\n"
    made = own(signed_up(plan, [("0007", "Ada", None)]), tmp_path, "letter_spring", text)
    letter = next(one for one in letters_for_spring(made) if "yard: 0007" in one)
    lines = dict(line.split(": ", 1) for line in letter.splitlines()[:-1])
    assert set(FIELDS) - set(lines) == {"special", "adds", "pick_up", "status", "group"}
    mine = plan.plantings[plan.plantings["yard_id"] == "0007"]
    assert lines["name"] == "Ada"
    assert lines["plants"] == f"{mine['count'].sum()} plants"
    assert lines["cost"] == money(float(mine["cost"].sum()))
    assert letter.splitlines()[-1] == "{as it is}"


def test_text_from_data_is_never_read_as_a_field_or_as_markup(plan, tmp_path):
    name = "{cost} #strong[x] $1$ `y` <z> *w*"
    made = own(
        signed_up(plan, [("0007", name, None)]), tmp_path, "letter_spring", "Dear {name},\n#h {yard}\n"
    )
    written = letter_writer(letters_for_spring, "Letters")(made, tmp_path / "spring.txt")
    assert f"Dear {name}," in written[0].read_text(encoding="utf-8")
    pages = [page.extract_text() for page in pypdf.PdfReader(written[1]).pages]
    assert len(pages) == 4
    assert any(name in page and "#h 0007" in page for page in pages)
    again = letter_writer(letters_for_spring, "Letters")(made, tmp_path / "again.txt")
    assert again[1].read_bytes() == written[1].read_bytes()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Dear {name},\n\nyour {costs}\n", "line 3: there is no field {costs}"),
        ("Dear {Name}", "line 1: there is no field {Name}"),
        ("{name.__class__}", "line 1: there is no field {name.__class__}"),
        ("{}", "line 1: there is no field {}"),
        ("Dear {name\n", "line 1: a brace stands alone"),
        ("x\n50 % } of\n", "line 2: a brace stands alone"),
    ],
)
def test_an_unknown_field_is_refused_with_file_line_and_the_list(plan, tmp_path, text, told):
    made = own(plan, tmp_path, "letter_ask", text)
    with pytest.raises(LayerError) as caught:
        check_templates(made.study)
    said = str(caught.value)
    place, what = told.split(": ", 1)
    assert f"letter_ask.txt, {place}" in said
    assert what in said
    assert ", ".join(FIELDS) in said


def test_a_template_as_long_as_a_book_is_refused_and_not_read_to_its_end(plan, tmp_path):
    made = own(plan, tmp_path, "letter_ask", "Dear {name}\n" * 100_000)
    with pytest.raises(LayerError, match=r"letter_ask\.txt: the letter is too long.*under 20,000"):
        check_templates(made.study)


def test_a_template_that_is_not_there_or_no_text_is_refused(plan, tmp_path):
    study = plan.study.changed(report={"letter_ask": "nowhere.txt"})
    with pytest.raises(MissingFileError, match=r"report\.letter_ask names 'nowhere\.txt'"):
        template(study, "letter_ask")
    path = tmp_path / "odd.txt"
    path.write_bytes(b"\xff\xfe\x00 Dear")
    with pytest.raises(LayerError, match="plain text, UTF-8"):
        template(plan.study.changed(report={"letter_ask": str(path)}), "letter_ask")


def test_blank_fields_leave_no_holes():
    assert filled("To {name}\n\nCall {contact}\n\n\n\nBye\n", {"name": "Ada"}) == "To Ada\n\nBye\n"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("2026-05-09", "says no hours"), ("9:00-12:00", "says no hours"),
        ("2026-02-30 9:00-12:00", "calendar"),
        ("2026-05-09 12:00-9:00", "ends before it begins"), ("2026-05-09 9:00-25:00", "calendar"),
    ],
)  # fmt: skip
def test_hours_that_nobody_can_keep_are_refused(text, why):
    with pytest.raises(ValueError, match=why):
        ReportSettings(pick_up=[text])


def test_own_templates_are_files_of_the_study(plan, tmp_path):
    made = own(plan, tmp_path, "letter_ask", "Dear {name}")
    assert any("letter_ask.txt" in name for name in study_files(made.study))

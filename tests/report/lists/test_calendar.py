"""The calendar, parsed back by icalendar: sound by RFC 5545, dates from the study, work fits the plan."""

import datetime as dt
from dataclasses import replace

import icalendar
import pytest

from habitat.report.lists.calendar import (
    entries,
    household_calendar,
    planting_window,
    write_calendar,
    yard_entries,
)
from tests.report.bought import as_bought
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    plan = small_plan(tmp_path_factory.mktemp("study"))
    plantings = plan.plantings.assign(
        year=[2 if n % 7 == 6 else 1 for n in range(len(plan.plantings))],
        form=["seed" if n % 7 == 1 else f for n, f in enumerate(plan.plantings["form"])],
    )
    return replace(plan, plantings=plantings)


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    return write_calendar(plan, tmp_path_factory.mktemp("calendar") / "calendar.ics")


@pytest.fixture(scope="module")
def events(written):
    calendar = icalendar.Calendar.from_ical(written.read_bytes())
    return list(calendar.walk("VEVENT"))


@pytest.fixture(scope="module")
def asked(plan):
    return entries(plan)


def titled(asked, start):
    return [e for e in asked if e.title.startswith(start)]


def test_the_file_is_sound(written, events):
    """RFC 5545: CRLF, at most 75 octets a line (3.1), PRODID, VERSION (3.6), UID, DTSTAMP (3.6.1)."""
    raw = written.read_bytes()
    assert raw.endswith(b"\r\n")
    lines = raw.split(b"\r\n")
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) <= 75
    calendar = icalendar.Calendar.from_ical(raw)
    assert str(calendar["version"]) == "2.0"
    assert calendar["prodid"]
    assert calendar.errors == []
    assert len(events) > 10
    assert len({str(e["uid"]) for e in events}) == len(events)
    for event in events:
        assert event.errors == []
        assert event["dtstamp"].dt == dt.datetime(
            2026, 3, 1, tzinfo=dt.UTC
        )  # the study's date, not the clock
        start, end = event["dtstart"].dt, event["dtend"].dt
        assert type(start) is type(end) is dt.date
        assert start < end  # DTEND is not part of an all-day event (3.6.1)
        assert start >= dt.date(2026, 3, 1)


def test_a_month_has_one_note_that_tells_all_it_asks(events, asked):
    """No month has two; each thing to do stands with its words in the month in which it begins."""
    notes = {(e["dtstart"].dt.year, e["dtstart"].dt.month): str(e["description"]) for e in events}
    assert len(notes) == len(events)
    assert all(e["dtend"].dt - e["dtstart"].dt == dt.timedelta(days=1) for e in events)
    for entry in asked:
        assert f"{entry.title}" in notes[entry.start.year, entry.start.month]
        assert entry.text in notes[entry.start.year, entry.start.month]
    assert {year for year, _ in notes} == set(range(2026, 2032))  # five plan years, and the last winter


def test_a_household_has_its_own_notes_and_no_others(plan):
    """Plants of its own yard only; who could join has none. Caterpillars from the year of enough leaves."""
    table = plan.yard_butterflies.copy()
    late = (table["yard_id"] == "0007") & (table["butterfly"] == "Papilio troilus")
    table["closes_in_year"] = table["closes_in_year"].astype("Int64")
    table.loc[late, "closes_in_year"] = 3
    mine = yard_entries(replace(plan, yard_butterflies=table), "0007")
    own = plan.plantings[(plan.plantings["yard_id"] == "0007") & (plan.plantings["year"] == 1)]
    (order,) = titled(mine, "Order plants (year 1)")
    assert len(order.text.splitlines()) - 1 == len(own.groupby(["common_name", "form"]))
    assert min(e.start.year for e in titled(mine, "Look for caterpillars: spicebush")) == 2028
    assert set(plan.yard_butterflies["closes_in_year"].dropna()) == {0, 2}  # 0 in habitat that is there
    assert min(e.start.year for e in titled(mine, "Look for caterpillars: monarch")) == 2027
    assert household_calendar(plan, "0007").count(b"BEGIN:VEVENT") > 12
    assert household_calendar(plan, "0012") == b""


def test_lines_are_marked_before_anybody_digs(asked, plan):
    notice = plan.knowledge.practice_value("locate_notice")
    for year in (1, 2):
        planting = titled(asked, f"Planting time (year {year})")[0].start
        order = titled(asked, f"Order plants (year {year})")[0].start
        calls = [e for e in titled(asked, "Have buried lines marked") if e.start.year == planting.year]
        (call,) = calls
        assert "811 in the United States" in call.text
        assert order <= planting
        ready = titled(asked, f"Get the beds ready (year {year})")[0]
        assert call.start + dt.timedelta(days=notice) < ready.start
        assert ready.start <= ready.end < planting
        water = titled(asked, f"Water what was planted in year {year}")[0].start
        assert planting < water


@pytest.mark.parametrize(
    ("date", "year", "first", "last"),
    [
        (dt.date(2026, 3, 1), 1, (2026, 4), (2026, 6)),  # in time for spring
        (dt.date(2026, 5, 20), 1, (2026, 5), (2026, 6)),  # spring has weeks left
        (dt.date(2026, 6, 20), 1, (2026, 9), (2026, 10)),  # too late: autumn
        (dt.date(2026, 11, 1), 1, (2027, 4), (2027, 6)),  # too late for that: next spring
        (dt.date(2026, 3, 1), 2, (2027, 4), (2027, 6)),
    ],
)
def test_planting_falls_into_spring_or_autumn(plan, date, year, first, last):
    """The practice table has April to June and September to October as planting time."""
    rule = plan.knowledge.practice_value
    names = ("spring_plant_start", "spring_plant_end", "fall_plant_start", "fall_plant_end")
    assert tuple(int(rule(n)) for n in names) == (4, 6, 9, 10)
    start, end = planting_window(plan, year, date)
    assert ((start.year, start.month), (end.year, end.month)) == (first, last)
    assert date <= start <= end


def test_watering_is_told_in_each_month_of_the_first_season(asked, events):
    (water,) = titled(asked, "Water what was planted in year 1")
    assert water.start.year == water.weekly_until.year
    assert water.weekly_until.month >= 9
    told = [e["dtstart"].dt for e in events if f"{water.title}, once a week" in str(e["description"])]
    assert [(day.year, day.month) for day in told] == [(2026, m) for m in range(water.start.month, 11)]


def test_orders_are_for_those_who_take_part(asked, plan):
    members = set(plan.yards.loc[plan.yards["role"] == "member", "yard_id"])
    mine = plan.plantings[plan.plantings["yard_id"].isin(members) & (plan.plantings["year"] == 1)]
    assert len(mine) < (plan.plantings["year"] == 1).sum()
    said = titled(asked, "Order plants (year 1)")[0].text.splitlines()[1:]
    told = []
    for (name, form), rows in mine.groupby(["common_name", "form"]):
        words = as_bought(rows).removeprefix("from ")
        told.append(
            f"{name}: {words} of seed" if form == "seed" else f"{name}: {rows['count'].sum()} {words}"
        )
    assert sorted(said) == sorted(told)
    grown = mine[mine["form"] != "seed"]
    (planting,) = titled(asked, "Planting time (year 1)")
    assert planting.text.startswith(f"{grown['count'].sum()} plants in {grown['yard_id'].nunique()} yards")


def test_seed_that_needs_the_cold_is_sown_over_winter(asked, plan):
    (name,) = set(plan.plantings.loc[plan.plantings["form"] == "seed", "common_name"])
    (plant,) = set(plan.plantings.loc[plan.plantings["form"] == "seed", "plant"])
    assert plan.knowledge.plants.loc[plant, "cold_stratification_days"] > 0
    (sow,) = titled(asked, "Sow seed that needs winter")
    assert name in sow.text
    assert sow.start.month in (10, 11, 12)
    assert sow.end.year == sow.start.year + 1


def test_stems_stay_until_spring_has_turned_warm(asked):
    """Every winter of the five plan years."""
    pairs = list(zip(titled(asked, "Leave stems and leaves"), titled(asked, "Cut back"), strict=True))
    assert [leave.start for leave, _ in pairs] == [dt.date(2026 + k, 10, 1) for k in range(5)]
    for leave, cut in pairs:
        assert leave.end + dt.timedelta(days=1) == cut.start
        assert cut.start.month >= 3


def test_caterpillars_are_looked_for_on_planted_hosts(asked, plan):
    closed = plan.yard_butterflies[
        (plan.yard_butterflies["missing"] == "") & (plan.yard_butterflies["role"] != "anchor")
    ]
    looks = {e.title.removeprefix("Look for caterpillars: "): e for e in titled(asked, "Look for")}
    names = plan.knowledge.butterflies["common_name"]
    assert set(looks) == {names[b] for b in set(closed["butterfly"])}
    said = looks["monarch"].text
    assert said.startswith("On swamp milkweed; ")
    assert "spray nothing" in said


def test_nobody_looks_for_caterpillars_where_no_leaf_is(plan):
    """What dies back by summer feeds nobody later, whatever the butterfly would eat then (leaf months)."""
    table = plan.knowledge.plants.copy()
    given = ["leaf_start_month", "leaf_end_month", "leaf_windows", "bloom_start_month", "bloom_end_month"]
    table.loc["Asclepias incarnata", given] = [5, 6, "", 5, 6]
    short = replace(plan, knowledge=replace(plan.knowledge, plants=table, memo={}))
    (whole,), (part,) = (
        [e for e in entries(one) if e.key == "look-Danaus plexippus-2027"] for one in (plan, short)
    )
    assert whole.end.month >= 8
    assert (part.start.month, part.end.month) == (5, 6)


def test_counts_are_monthly_through_the_season(asked, plan):
    first, last = plan.study.study.season
    days = [e.start for e in titled(asked, "Monthly count") if e.start.year == 2026]
    assert sorted(days) == [dt.date(2026, m, 15) for m in range(first, last + 1)]


def test_odd_names_and_equal_bytes(plan, tmp_path):
    study = plan.study.changed(study={"name": "Row; with, marks\\ and a long, long name " + "x" * 100})
    odd = replace(plan, study=study)
    one, two = (write_calendar(odd, tmp_path / f"{n}.ics").read_bytes() for n in "ab")
    assert one == two
    assert b"\r\nX-WR-CALNAME:Row\\; with\\, marks\\\\ and" in one  # text is escaped (RFC 5545, 3.3.11)


def test_a_plan_without_plants_has_an_empty_calendar(plan, tmp_path):
    bare = replace(plan, plantings=plan.plantings.iloc[:0], yard_butterflies=plan.yard_butterflies.iloc[:0])
    raw = write_calendar(bare, tmp_path / "calendar.ics").read_bytes()
    assert icalendar.Calendar.from_ical(raw).walk("VEVENT") == []

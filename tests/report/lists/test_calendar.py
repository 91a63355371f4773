"""The calendar, parsed back by icalendar: sound by RFC 5545, dates from the study, work fits the plan."""

import datetime as dt
from dataclasses import replace

import icalendar
import pytest

from habitat.report.lists.calendar import entries, planting_window, write_calendar
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


def titled(events, start):
    return [e for e in events if str(e["summary"]).startswith(start)]


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


def test_lines_are_marked_before_anybody_digs(events, plan):
    notice = plan.knowledge.practice_value("locate_notice")
    for year in (1, 2):
        planting = titled(events, f"Planting time (year {year})")[0]["dtstart"].dt
        order = titled(events, f"Order plants (year {year})")[0]["dtstart"].dt
        calls = [
            e for e in titled(events, "Have buried lines marked") if e["dtstart"].dt.year == planting.year
        ]
        (call,) = calls
        assert "811 in the United States" in str(call["description"])
        assert order <= planting
        ready = titled(events, f"Get the beds ready (year {year})")[0]
        assert call["dtstart"].dt + dt.timedelta(days=notice) < ready["dtstart"].dt
        assert ready["dtstart"].dt < ready["dtend"].dt <= planting  # DTEND is the day after the last
        water = titled(events, f"Water what was planted in year {year}")[0]["dtstart"].dt
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


def test_watering_repeats_weekly_through_the_first_season(events):
    (event,) = titled(events, "Water what was planted in year 1")
    rule = event["rrule"]
    assert rule["freq"] == ["WEEKLY"]
    assert event["dtstart"].dt.year == rule["until"][0].year
    assert rule["until"][0].month >= 9


def test_orders_are_for_those_who_take_part(events, plan):
    members = set(plan.yards.loc[plan.yards["role"] == "member", "yard_id"])
    mine = plan.plantings[plan.plantings["yard_id"].isin(members) & (plan.plantings["year"] == 1)]
    assert len(mine) < (plan.plantings["year"] == 1).sum()
    said = str(titled(events, "Order plants (year 1)")[0]["description"]).splitlines()[1:]
    told = []
    for (name, form), rows in mine.groupby(["common_name", "form"]):
        words = as_bought(rows).removeprefix("from ")
        told.append(
            f"{name}: {words} of seed" if form == "seed" else f"{name}: {rows['count'].sum()} {words}"
        )
    assert sorted(said) == sorted(told)
    grown = mine[mine["form"] != "seed"]
    (event,) = titled(events, "Planting time (year 1)")
    assert str(event["description"]).startswith(
        f"{grown['count'].sum()} plants in {grown['yard_id'].nunique()} yards"
    )


def test_seed_that_needs_the_cold_is_sown_over_winter(events, plan):
    (name,) = set(plan.plantings.loc[plan.plantings["form"] == "seed", "common_name"])
    (plant,) = set(plan.plantings.loc[plan.plantings["form"] == "seed", "plant"])
    assert plan.knowledge.plants.loc[plant, "cold_stratification_days"] > 0
    (event,) = titled(events, "Sow seed that needs winter")
    assert name in str(event["description"])
    assert event["dtstart"].dt.month in (10, 11, 12)
    assert event["dtend"].dt.year == event["dtstart"].dt.year + 1


def test_stems_stay_until_spring_has_turned_warm(events):
    leave, cut = titled(events, "Leave stems and leaves")[0], titled(events, "Cut back")[0]
    assert (leave["dtstart"].dt.month, leave["dtstart"].dt.day) == (10, 1)
    assert leave["dtend"].dt == cut["dtstart"].dt
    assert cut["dtstart"].dt.month >= 3


def test_caterpillars_are_looked_for_on_planted_hosts(events, plan):
    closed = plan.yard_butterflies[
        (plan.yard_butterflies["missing"] == "") & (plan.yard_butterflies["role"] != "anchor")
    ]
    looks = {str(e["summary"]).removeprefix("Look for caterpillars: "): e for e in titled(events, "Look for")}
    names = plan.knowledge.butterflies["common_name"]
    assert set(looks) == {names[b] for b in set(closed["butterfly"])}
    said = str(looks["monarch"]["description"])
    assert said.startswith("On swamp milkweed; ")
    assert "spray nothing" in said


def test_nobody_looks_for_caterpillars_where_no_leaf_is(plan):
    """What dies back by summer feeds nobody later, whatever the butterfly would eat then (leaf months)."""
    table = plan.knowledge.plants.copy()
    given = ["leaf_start_month", "leaf_end_month", "leaf_windows", "bloom_start_month", "bloom_end_month"]
    table.loc["Asclepias incarnata", given] = [5, 6, "", 5, 6]
    short = replace(plan, knowledge=replace(plan.knowledge, plants=table, memo={}))
    (whole,), (part,) = (
        [e for e in entries(one) if e.key == "look-Danaus plexippus"] for one in (plan, short)
    )
    assert whole.end.month >= 8
    assert (part.start.month, part.end.month) == (5, 6)


def test_counts_are_monthly_through_the_season(events, plan):
    first, last = plan.study.study.season
    days = [e["dtstart"].dt for e in titled(events, "Monthly count")]
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

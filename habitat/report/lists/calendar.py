"""Calendars (RFC 5545), a note a month: when to order, dig, water, look for caterpillars and leave stems."""

from __future__ import annotations

import calendar as days
import datetime as dt
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd
from icalendar import Calendar, Event, vText

from habitat.knowledge.food import hosts_by_time
from habitat.knowledge.months import month_slots
from habitat.knowledge.place import notice_days
from habitat.planting.settled import living_of
from habitat.report.lists.buying import in_ground
from habitat.report.lists.joined import living_yards, planting_yards
from habitat.report.lists.later_years import later_years
from habitat.report.lists.notes import monthly_notes
from habitat.report.lists.types import Entry
from habitat.report.lists.work_dates import WorkDates, work_dates
from habitat.report.plan import Plan
from habitat.report.rows import each_row, row_of
from habitat.report.words.forms import bought
from habitat.report.words.months import month_words
from habitat.report.words.numbers import Units
from habitat.report.words.text import counted, listed, plain
from habitat.terms import ANCHOR

PRODUCT = "-//habitat//planting plan//EN"


def write_calendar(plan: Plan, path: Path) -> Path:
    """Write calendar.ics: one note a month for the group; dates and stamps follow from the study's date."""
    path.write_bytes(make_calendar(plan, entries(plan)).to_ical())
    return path


def household_calendar(plan: Plan, yard_id: str) -> bytes:
    """Return the calendar of one household, a note a month; empty where nothing is to be done."""
    mine = yard_entries(plan, yard_id)
    return bytes(make_calendar(plan, mine, yard_id).to_ical()) if mine else b""


def make_calendar(plan: Plan, found: Sequence[Entry], whose: str = "") -> Calendar:
    """Return a calendar with a note for each month in which anything is to be done."""
    head = plan.study.study
    date = head.date or dt.date(2000, 1, 1)
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("x-wr-calname", vText(plain(head.name)))
    stamp = dt.datetime(date.year, date.month, date.day, tzinfo=dt.UTC)
    for note in monthly_notes(found, date):
        calendar.add_component(_event(note, f"{plain(head.name, 200)}\n{whose}".rstrip(), stamp))
    return calendar


def _event(entry: Entry, study: str, stamp: dt.datetime) -> Event:
    event = Event()
    digest = hashlib.sha256(f"{study}\n{entry.key}".encode()).hexdigest()[:24]
    event.add("uid", f"{digest}@habitat.invalid")
    event.add("dtstamp", stamp)
    event.add("summary", entry.title)
    event.add("description", entry.text)
    event.add("dtstart", entry.start)
    event.add("dtend", entry.end + dt.timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    return event


def entries(plan: Plan) -> list[Entry]:
    """Return what the plan asks of those who take part in its years, in order of dates."""
    joined = planting_yards(plan) | living_yards(plan)
    mine = _of_those(plan, joined)
    return _ordered([*_work(mine), *_counting(mine), *later_years(mine, joined)])


def yard_entries(plan: Plan, yard_id: str) -> list[Entry]:
    """Return what the plan asks of one household that takes part; nothing of another."""
    if yard_id not in planting_yards(plan) | living_yards(plan):
        return []
    mine = _of_those(plan, frozenset({yard_id}))
    return _ordered([*_work(mine), *later_years(mine, frozenset({yard_id}))])


def _ordered(found: list[Entry]) -> list[Entry]:
    return sorted(found, key=lambda e: (e.start, e.key))


def _work(plan: Plan) -> Iterator[Entry]:
    """Yield what planting asks for, year by year, and what every year asks for from its first on."""
    date = plan.study.study.date or dt.date(2000, 1, 1)
    years = sorted({int(y) for y in plan.plantings["year"]}) if len(plan.plantings) else []
    for number in years:
        yield from (*_planting_year(plan, number, date), *_sowing(plan, number, date))
        yield from _watering(plan, number, date)
    if years:
        yield from _winters(plan, planting_window(plan, years[0], date)[0].year)
    yield from _watching(plan, date)


def _years(plan: Plan, first: int) -> range:
    """Return the calendar years from a first one to the plan year in which habitat is counted."""
    date = plan.study.study.date or dt.date(2000, 1, 1)
    return range(first, planting_window(plan, 1, date)[0].year + plan.study.planting.year)


def _of_those(plan: Plan, yards: frozenset[str]) -> Plan:
    """Return the plan with the plantings, living plants and butterflies of some yards only."""
    plantings, butterflies, standing = plan.plantings, plan.yard_butterflies, plan.existing_plants
    return replace(
        plan,
        plantings=plantings[plantings["yard_id"].isin(yards) & ~in_ground(plantings)],
        yard_butterflies=butterflies[butterflies["yard_id"].isin(yards)],
        existing_plants=standing[standing["yard_id"].isin(yards)],
    )


def planting_window(plan: Plan, year: int, date: dt.date) -> tuple[dt.date, dt.date]:
    """Return first and last day for setting out the plants of a plan year.

    Year 1 is spring of the study's year while four weeks of it are left after the date, else the autumn after
    the date; year 2 is the spring after year 1, and so on (months: rules spring_plant and fall_plant).
    """
    rule = plan.knowledge.practice_value
    first = _window(date.year, rule("spring_plant_start"), rule("spring_plant_end"))
    if year == 1 and date <= first[1] - dt.timedelta(weeks=4):
        return max(first[0], date), first[1]
    autumn = _window(date.year, rule("fall_plant_start"), rule("fall_plant_end"))
    if year == 1 and date <= autumn[1] - dt.timedelta(weeks=4):
        return max(autumn[0], date), autumn[1]
    base = planting_window(plan, 1, date)[0].year if year > 1 else date.year + 1
    return _window(base + max(year - 1, 0), rule("spring_plant_start"), rule("spring_plant_end"))


def _dates(plan: Plan, year: int, date: dt.date) -> WorkDates:
    """Return when the work of a plan year starts: lines marked, then turf cut, then plants set."""
    return work_dates(planting_window(plan, year, date)[0], date, notice_days(plan.knowledge))


def _window(year: int, first_month: float, last_month: float) -> tuple[dt.date, dt.date]:
    last = int(last_month)
    return dt.date(year, int(first_month), 1), dt.date(year, last, days.monthrange(year, last)[1])


def _planting_year(plan: Plan, number: int, date: dt.date) -> Iterator[Entry]:
    first = _dates(plan, number, date)
    mine = plan.plantings[plan.plantings["year"] == number]
    grown = mine[mine["form"] != "seed"]
    order = max(date, first.plant - dt.timedelta(weeks=8))
    yield Entry(
        f"order-{number}",
        f"Order plants (year {number})",
        "Straight species, nursery-grown, never treated with systemic insecticide: ask the grower. "
        "Spares, trays and substitutes are on the shopping list.\n" + "\n".join(_kinds(mine)),
        order,
        order,
    )
    yield Entry(
        f"locate-{number}", "Have buried lines marked", _locating(plan, first.dig), first.ask, first.ask
    )
    yield Entry(
        f"prepare-{number}",
        f"Get the beds ready (year {number})",
        "Only once buried lines are marked: measure the beds out from the sheet. Cut the turf and lift it, "
        "or smother it; no weedkiller where hosts will stand. Under trees dig planting holes only, and by "
        "hand: roots.",
        first.dig,
        first.plant - dt.timedelta(days=1),
    )
    if len(grown):
        many = counted(int(grown["count"].sum()), "plant")
        many += f" in {counted(grown['yard_id'].nunique(), 'yard')}"
        yield Entry(
            f"plant-{number}",
            f"Planting time (year {number})",
            f"{many}. Water in well. Guard young plants against deer and rabbits with a wire cage.",
            first.plant,
            planting_window(plan, number, date)[1],
        )


def _kinds(plantings: pd.DataFrame) -> list[str]:
    """Return counts by kind and form, a line each."""
    kinds = plantings.groupby(["common_name", "form", "spacing_m"])["count"].sum().reset_index()
    kinds = kinds.rename(columns={"count": "number"})
    return [f"{plain(r.common_name)}: {bought(int(r.number), r.form, r.spacing_m)}" for r in each_row(kinds)]


def _locating(plan: Plan, dig: dt.date) -> str:
    near = Units(plan.study.report.units).size(plan.knowledge.practice_value("locate_handdig"))
    return (
        "Ask the utility locating service (811 in the United States) at least "
        f"{notice_days(plan.knowledge)} business days before anybody digs, not counting the day you ask, "
        f"weekends and holidays; rules differ by state. Dig nothing before {dig.day} "
        f"{month_words([dig.month])}, and only once all lines are marked; where marks have gone or "
        f"their time has run out, ask again. Dig by hand within {near} of a mark. The service does not mark "
        "a household's own lines."
    )


def _sowing(plan: Plan, number: int, date: dt.date) -> Iterator[Entry]:
    """Say when to sow what is bought as seed: over winter where it needs the cold, else in spring."""
    mine = plan.plantings[(plan.plantings["year"] == number) & (plan.plantings["form"] == "seed")]
    if mine.empty:
        return
    days_cold = plan.knowledge.plants["cold_stratification_days"]
    cold = mine["plant"].map(days_cold).fillna(0) > 0
    start, (_, end) = _dates(plan, number, date).plant, planting_window(plan, number, date)
    if cold.any():
        rule = plan.knowledge.practice_value
        first = dt.date(start.year, int(rule("dormant_sow_start")), 1)
        last = _window(start.year + 1, rule("dormant_sow_end"), rule("dormant_sow_end"))[1]
        words = "\n".join(["Sow on bare, raked soil, press in; winter does the rest.", *_kinds(mine[cold])])
        yield Entry(f"sow-cold-{number}", f"Sow seed that needs winter (year {number})", words, first, last)
    if not cold.all():
        words = "Sow shallow, keep moist until it is up.\n" + "\n".join(_kinds(mine[~cold]))
        yield Entry(f"sow-{number}", f"Sow seed (year {number})", words, start, end)


def _watering(plan: Plan, number: int, date: dt.date) -> Iterator[Entry]:
    start = _dates(plan, number, date).plant
    rain = Units(plan.study.report.units).rain(plan.knowledge.practice_value("water_first_season"))
    day, last = start + dt.timedelta(days=7), dt.date(start.year, 10, 15)
    if day < last:
        yield Entry(
            f"water-{number}",
            f"Water what was planted in year {number}, if it has not rained",
            f"About {rain} a week, rain counted, in its first season. Soak the ground, not the leaves.",
            day,
            day,
            weekly_until=last,
        )


def _watching(plan: Plan, date: dt.date) -> Iterator[Entry]:
    """Say when to look for caterpillars of butterflies that find all they need: in months with food."""
    table = plan.yard_butterflies
    if table.empty:
        return
    closed = table[(table["missing"].fillna("") == "") & (table["role"] != ANCHOR)]
    first_year = planting_window(plan, 1, date)[0].year
    grown = set(living_of(plan.existing_plants)["plant"])
    for name in sorted(set(closed["butterfly"]) & set(plan.knowledge.butterflies.index)):
        planted, serve = set(plan.plantings["plant"]) | grown, hosts_by_time(plan.knowledge, name)
        fed = {plant: host.food for plant, host in sorted(serve.items()) if plant in planted and host.food}
        months = [m for m in range(3, 12) if any(food & month_slots([m]) for food in fed.values())]
        if not months:
            continue
        common = row_of(plan.knowledge.butterflies, name)["common_name"]
        leaves = listed([str(plan.knowledge.plants.loc[h, "common_name"]) for h in fed], "or")
        closes = closed.loc[closed["butterfly"] == name, "closes_in_year"].min()
        for year in _years(plan, first_year + max(int(closes) if closes > 0 else 1, 1) - 1):
            start, _ = _window(year, months[0], months[0])
            _, end = _window(year, months[-1], months[-1])
            if end >= date:
                yield Entry(
                    f"look-{name}-{year}",
                    f"Look for caterpillars: {common}",
                    f"On {leaves}; {month_words(months)}. Chewed leaves mean success: spray nothing. "
                    "Write down what you see in the count form.",
                    max(start, date),
                    end,
                    every_month=True,
                )


def _counting(plan: Plan) -> Iterator[Entry]:
    """Say when to walk the monthly count, in the season of each year."""
    if plan.plantings.empty and living_of(plan.existing_plants).empty:
        return
    date = plan.study.study.date or dt.date(2000, 1, 1)
    first, last = plan.study.study.season
    for year in _years(plan, planting_window(plan, 1, date)[0].year):
        for month in range(first, last + 1):
            day = dt.date(year, month, 15)
            if day >= date:
                words = "Ten to fifteen minutes on a warm, still day; write down zeros too: count-form.pdf."
                yield Entry(
                    f"count-{year}-{month}", "Monthly count of eggs, caterpillars and adults", words, day, day
                )


def _winters(plan: Plan, first: int) -> Iterator[Entry]:
    """Say each year from when to leave stems, and when they may be cut."""
    rule = plan.knowledge.practice_value
    units = Units(plan.study.report.units)
    stems = f"{units.depth(rule('stem_cut_min'))} to {units.depth(rule('stem_cut_max'))}"
    for year in _years(plan, first):
        spring = dt.date(year + 1, int(rule("cleanup_month_earliest")), 1)
        yield Entry(
            f"leave-{year}",
            "Leave stems and leaves until spring",
            "Eggs, caterpillars and chrysalises winter in them. Don't rake, cut or shred.",
            dt.date(year, 10, 1),
            spring - dt.timedelta(days=1),
        )
        yield Entry(
            f"cut-{year}",
            "Cut back, once days have turned warm",
            f"When {rule('cleanup_days'):.0f} days running stay above {_warm(plan)} (a rule of thumb). "
            f"Leave stems {stems} tall, lay what is cut at the back of the bed; never cut all in one year.",
            spring,
            spring + dt.timedelta(days=29),
        )


def _warm(plan: Plan) -> str:
    degrees = plan.knowledge.practice_value("cleanup_temp")
    return f"{degrees * 1.8 + 32:.0f} °F" if plan.study.report.units == "us" else f"{degrees:.0f} °C"

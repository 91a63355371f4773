"""What people decided and edited since a run, and what changed under plans that are kept."""

from __future__ import annotations

from habitat.remarks import Remark, Subject
from habitat.report.words.say import Say


def _at(say: Say, about: Subject) -> str:
    """Return the yard that a remark is about, to stand before it; nothing without one."""
    return f"{say.yard(about.yards[0])}: " if about.yards else ""


def decisions_read(_say: Say, _: Subject, *, file: str, what: str) -> str:
    """Say what was found in reading a file of decisions."""
    return f"{file}: {what}"


def decisions_row(_say: Say, _: Subject, *, file: str, row: int, what: str) -> str:
    """Say what is wrong with a row of the decisions."""
    return f"{file}, row {row}: {what}"


def decisions_twice(say: Say, about: Subject, *, file: str, rows: tuple[int, ...], status: str) -> str:
    """Say that several rows speak of one yard, and which counts."""
    listed = " and ".join(map(str, rows))
    return (
        f"{file}, rows {listed}: all are of {say.yard(about.yards[0])}; it counts as {status}, and what the "
        "others say is kept at the end of the table"
    )


def decided_without_plan(say: Say, about: Subject, *, status: str) -> str:
    """Say that a status stands beside a yard of which the earlier run has no plan."""
    who = say.yard(about.yards[0])
    return f"{who} is {status}, but the earlier run has no plan of it: it is planned as a draft"


def refused_but_signed(say: Say, about: Subject, *, status: str) -> str:
    """Say that a household is on the sign-up sheet though it said no."""
    who = say.yard(about.yards[0])
    return (
        f"{who} is on the sign-up sheet as a member, but {status!r} in decisions.csv: it is left out; make "
        "it a draft there if it takes part after all"
    )


def asked_and_joined(say: Say, about: Subject) -> str:
    """Say who was asked and takes part now."""
    listed = ", ".join(map(say.yard, about.yards))
    return f"Asked before and taking part now, so drafts are planned for: {listed}."


def joined_by_decision(say: Say, about: Subject) -> str:
    """Say who takes part by the table of decisions, not by the sign-up sheet."""
    listed = ", ".join(map(say.yard, about.yards))
    return f"By decisions.csv (takes_part: yes) these take part; put them on the sign-up sheet: {listed}."


def asked_this_season(say: Say, about: Subject) -> str:
    """Say who has been asked this year and is not asked again."""
    listed = ", ".join(map(say.yard, about.yards))
    return f"Asked this year, so on no list of whom to ask next: {listed}."


def asked_later(say: Say, about: Subject) -> str:
    """Say who is to be asked in a later year."""
    listed = ", ".join(map(say.yard, about.yards))
    return f"To be asked in a later year, so on no list of whom to ask next: {listed}."


def kept_yard_left(say: Say, about: Subject, *, status: str) -> str:
    """Say that a yard whose plan was to be kept takes no part any more."""
    who = say.yard(about.yards[0])
    return (
        f"{who} is {status}, but neither a member nor a candidate any more: its plan stays in the earlier "
        "results and in no list of these"
    )


def plans_kept(_say: Say, _: Subject, *, kept: int, drafts: int, earlier: str) -> str:
    """Say how many plans were kept, and how many drafts planned."""
    return f"{kept} plans are kept as they are in {earlier}; {drafts} drafts are planned."


def outline_moved(say: Say, about: Subject, *, moved_m: float) -> str:
    """Say that a parcel was surveyed anew under a plan that is kept."""
    return (
        f"{say.yard(about.yards[0])}: its outline moved by up to {say.units.length(moved_m)} since its plan "
        "was drawn; the plan keeps the old one: look whether its beds still lie in the yard"
    )


def standing_changed(say: Say, about: Subject, *, names: tuple[str, ...], came: bool) -> str:
    """Say what came to stand or is gone in a yard whose plan is kept."""
    what = "now stands there too" if came else "stood there and is gone"
    listed = ", ".join(name or "a plant without a name" for name in names)
    return (
        f"{say.yard(about.yards[0])}: {listed} {what}; the plan is kept as it was, look at its light and room"
    )


def bed_covered(say: Say, about: Subject, *, bed: int, share: float) -> str:
    """Say that a bed of a plan that is kept lies on ground that is open no more."""
    return (
        f"{say.yard(about.yards[0])}: {share:.0%} of bed {bed} is not open ground any more; the plan is kept "
        "as it was"
    )


def fit_fell(say: Say, about: Subject, *, common_name: str, had: float, fit: float) -> str:
    """Say that a plant of a plan that is kept does not suit its ground any more."""
    return (
        f"{say.yard(about.yards[0])}: {common_name} ({about.plants[0]}) is not suitable there any more, by "
        f"the tables and maps of now (fit {fit:.2f}, it was {had:.2f}); the plan is kept as it was"
    )


def list_row(_say: Say, _: Subject, *, file: str, row: int, what: str) -> str:
    """Say what is wrong with a row of an edited list."""
    return f"{file}, row {row}: {what}"


def planting_struck(say: Say, about: Subject, *, planting: str, name: str) -> str:
    """Say that a planting is no more."""
    return f"{_at(say, about)}planting {planting} ({name}) is struck"


def hand_plant_unknown(say: Say, about: Subject, *, name: str, planting: str, stays: str) -> str:
    """Say that a plant put by hand is in no table."""
    then = f"{stays} stays" if stays else "the planting is left out"
    return f"{_at(say, about)}planting {planting} names {name!r}, which is in no plant table: {then}"


def hand_count_unknown(say: Say, about: Subject, *, planting: str, stays: int) -> str:
    """Say that a count made by hand is none."""
    return f"{_at(say, about)}planting {planting} has no whole number as its count: {stays} stays"


def hand_point_left_out(say: Say, about: Subject, *, name: str, known: bool) -> str:
    """Say that a plant put by hand could not be taken."""
    why = "lies in no bed" if known else "is in no plant table"
    return f"{_at(say, about)}a plant was added by hand, but {name!r} {why}: it is left out"


def hand_bed_nowhere(say: Say, _: Subject, *, area_m2: float) -> str:
    """Say that a bed was drawn outside all yards."""
    return f"A bed of {say.units.area(area_m2)} drawn by hand lies in no yard: it is left out"


def hand_bed_empty(say: Say, about: Subject, *, area_m2: float) -> str:
    """Say that a bed was drawn in which nothing is to grow."""
    return (
        f"{_at(say, about)}a bed of {say.units.area(area_m2)} drawn by hand holds no plants: it is left "
        "out; add points to plant_points"
    )


def hand_yard_left_out(say: Say, about: Subject, *, beds: int, known: bool) -> str:
    """Say that somebody drew in a yard that is not planned."""
    why = "is not planned" if known else "is no yard of this study"
    mend = "set its role in the participants table and run the study" if known else "look at its yard_id"
    left = "a bed drawn there by hand is" if beds == 1 else f"{beds} beds drawn there by hand are"
    return f"{say.yard(about.yards[0])} {why}: {left} left out; {mend}"


def hand_bed_outside(say: Say, about: Subject, *, bed: int, share: float) -> str:
    """Say that a bed changed by hand lies beyond its yard."""
    return f"{_at(say, about)}{share:.0%} of bed {bed}, changed by hand, lies outside the yard"


def hand_bed_not_open(say: Say, about: Subject, *, bed: int, share: float) -> str:
    """Say that a bed changed by hand lies where none may be."""
    return (
        f"{_at(say, about)}{share:.0%} of bed {bed}, changed by hand, is not open ground: a building, paving "
        "or a setback from them is there"
    )


def hand_outside_bed(say: Say, about: Subject, *, common_name: str, count: int) -> str:
    """Say that plants put by hand stand outside of their bed."""
    return f"{_at(say, about)}{count} {common_name}, changed by hand, stand outside their bed"


def hand_too_close(say: Say, about: Subject, *, common_name: str, count: int, spacing_m: float) -> str:
    """Say that plants put by hand stand too close."""
    return (
        f"{_at(say, about)}{count} {common_name}, changed by hand, stand closer to others than their "
        f"spacing of {say.units.length(spacing_m)} asks for"
    )


def hand_unfit(say: Say, about: Subject, *, common_name: str, fit: float) -> str:
    """Say that a plant put by hand does not suit its ground."""
    return f"{_at(say, about)}{common_name}, changed by hand, is not suitable there (fit {fit:.2f})"


def hand_barred(say: Say, about: Subject, *, common_name: str, why: Remark) -> str:
    """Say that a plant put by hand is one that the plan would keep out of this yard."""
    return f"{_at(say, about)}{common_name}, changed by hand, is kept out of plans here: {say(why)}"


def redrawn(_say: Say, _: Subject, *, changed: int, yards: int) -> str:
    """Say how much of a plan is made by hand."""
    return f"Drawn anew without choosing anything: {changed} plantings of {yards} yards are changed by hand."


def season_row(_say: Say, _: Subject, *, file: str, row: int, what: str) -> str:
    """Say what is wrong with a row of the season form."""
    return f"{file}, row {row}: {what}"


def season_unread(_say: Say, _: Subject, *, rows: int) -> str:
    """Say that a season form is there and no run that it could be of."""
    return (
        f"The season form ({rows} rows) is not used: it tells of the plantings of an earlier run. Name the "
        "results of that run with --after"
    )


def season_told(_say: Say, _: Subject, *, rows: int, alive: int, gaps: int) -> str:
    """Say what the season form told in all."""
    return f"The season form tells of {rows} plantings: {alive} plants live, {gaps} are to be planted again."


def planted_by_form(say: Say, about: Subject, *, status: str) -> str:
    """Say that a yard counts as planted since a form says so."""
    return f"{_at(say, about)}it was {status}, but the season form tells of plants: it counts as planted"


def planted_not_counted(say: Say, about: Subject, *, planting: str, planted: int, of: int) -> str:
    """Say that fewer were planted than planned, and that nobody told how many live."""
    return (
        f"{_at(say, about)}of planting {planting} {planted} of {of} were planted, and nobody told how many "
        "live: it stays as it is"
    )


def replaced_by_unknown(say: Say, about: Subject, *, planting: str, name: str) -> str:
    """Say that nobody knows what a household put in place of a plant."""
    return f"{_at(say, about)}planting {planting} was replaced by {name!r}, which is in no plant table"


def replaced_twice(say: Say, about: Subject, *, planting: str, instead: str, ground: str) -> str:
    """Say what is planted where a plant died and died again."""
    where = f"{ground} ground" if ground else "ground of unknown drainage"
    if instead == about.plants[0]:
        then = f"no plant like it is known to live better on {where}: it is planted once more"
    else:
        then = f"{instead} takes its place, which lived better on {where}"
    return f"{_at(say, about)}{about.plants[0]} ({planting}) died where it had been replaced already; {then}"

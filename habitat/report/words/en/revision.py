"""What people decided and edited since a run, and what changed under plans that are kept."""

from __future__ import annotations

from habitat.remarks import Subject
from habitat.report.words.say import Say


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

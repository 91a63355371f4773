"""What planting found: names, growers, shade of its own trees, money, and plans held against drawings."""

from __future__ import annotations

from habitat.remarks import Remark, Subject
from habitat.report.words.say import Say

UNNAMED = {"empty": "", "genus": "", "another thing": ": mend the row"}
"""What follows from a name that is no plant's; of others: it shades, but counts for no butterfly. What is
said of a genus tells whether it counts."""


MOST_NAMED = 10
"""Yards that are named in one sentence; the others stand in the tables."""


def plant_name_noted(_say: Say, about: Subject, *, row: int, name_note: str, how: str, accepted: bool) -> str:
    """Say what a record's plant was taken for, or that it is not known."""
    after = "" if accepted else UNNAMED.get(how, "; it shades, but counts for no butterfly")
    return f"{about.layers[0]} row {row}: {name_note}{after}"


def grower_plant_unknown(_say: Say, _: Subject, *, row: int, name: str) -> str:
    """Say that a grower offers a plant that is not in the tables."""
    return f"growers row {row}: plant {name!r} is not known here; the offer is not used"


def grower_form_unknown(
    _say: Say, _: Subject, *, row: int, name: str, form: str, forms: tuple[str, ...]
) -> str:
    """Say that a grower offers a plant in a form that nobody knows."""
    what = f"the form {form!r} given for {name} is none of {', '.join(forms)}"
    return f"growers row {row}: {what}; the offer is not used"


def growers_run_out(say: Say, _: Subject, *, yards: int, short: tuple[Remark, ...]) -> str:
    """Say which plants local growers have too few of."""
    return (
        f"What the growers have does not last for all {yards} yards, members first: {say(short)}. The "
        "other yards get other plants for the same butterflies, or order elsewhere."
    )


def growers_plant_short(_say: Say, about: Subject, *, stock: float, common_name: str, yards: int) -> str:
    """Say how many of a plant there are, and for how many yards they last."""
    return f"{stock:g} {common_name} ({about.plants[0]}), for {yards} yards"


def own_shade_unknown(_say: Say, _: Subject, *, count: int) -> str:
    """Say that nobody worked out what the plan's own trees shade."""
    return (
        f"The shade of the plan's own trees and tall shrubs ({count}) is not worked out: "
        "that takes a buildings layer and heights."
    )


def own_shade_counted(_say: Say, _: Subject, *, count: int, kept_out: int) -> str:
    """Say that the plan's own trees count as grown, and what their shade keeps out."""
    head = (
        f"The plan's own trees and tall shrubs ({count}) count at mature size: the rest has the sun that "
        "they leave."
    )
    if not kept_out:
        return head
    return (
        f"{head} {kept_out} plantings that today's light would allow are kept out, named with what is not "
        "possible in each yard (planting.allow_falling_class lets them in)."
    )


def group_unheard(_say: Say, _: Subject, *, group: str) -> str:
    """Say that no row of the sign-up sheet names a group of the study."""
    return (
        f"[groups.{group}] is of no use: no row of the sign-up sheet has {group!r} in its column group; look "
        "how it is written there"
    )


def purse_split(
    _say: Say, _: Subject, *, total: float, yards: int, spent: float, worth_m2: float, bound_m2: float
) -> str:
    """Say what one purse for all yards buys, and what none could exceed."""
    return (
        f"One purse of {total:g} for {yards} yards: {spent:g} are spent, for a worth of {worth_m2:.0f} m2 "
        f"of weighted habitat and secondary aims; no split is worth more than {bound_m2:.0f}."
    )


def best_not_proven(say: Say, about: Subject, *, of: int, share: float, most: float) -> str:
    """Say in which yards the search ended before it was sure that no much better plan is possible."""
    named = ", ".join(dict.fromkeys(say.yard(yard) for yard in about.yards[:MOST_NAMED]))
    more = len(about.yards) - MOST_NAMED
    named += f" and {more} more" if more > 0 else ""
    return (
        f"In {len(about.yards)} of {of} yards the search for the best plan ended while one worth more than "
        f"{share:.0%} more was possible, {most:.0%} at most (column gap of yard_results): {named}. "
        "planting.effort = 'proven' searches longer."
    )


def habitat_apart(_say: Say, _: Subject, *, count: int, of: int, share: float) -> str:
    """Say in how many yards the drawn plants give another habitat than the program predicts."""
    return (
        f"In {count} of {of} yards the habitat of the program and from the drawn plants are more than "
        f"{share:.0%} apart; the drawn figure counts."
    )


def plantings_short(_say: Say, _: Subject, *, count: int) -> str:
    """Say how many plantings hold fewer plants than were chosen."""
    return f"{count} plantings hold fewer plants than chosen, since the bed as drawn has less room."

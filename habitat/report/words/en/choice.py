"""What a yard wished for and could not get, and why, in English.

Reasons stand in the fact ``because``, which a public audience does not get: the wish alone is told then.
"""

from __future__ import annotations

from habitat.remarks import Remark, Subject
from habitat.report.words.numbers import money
from habitat.report.words.say import Say
from habitat.terms import MONTHS

Reasons = tuple[Remark, ...]


def _unmet(say: Say, wish: str, because: Reasons) -> str:
    return f"{wish}: {say(because)}" if because else wish


# Wishes ----------------------------------------------------------------------------------------------------


def no_host(say: Say, _: Subject, *, common_name: str, because: Reasons) -> str:
    """Say that no brood of a butterfly finds leaf."""
    return _unmet(say, f"no host for the {common_name}", because)


def few_hosts(say: Say, _: Subject, *, common_name: str, because: Reasons) -> str:
    """Say that a butterfly finds leaf, and too little for a brood."""
    return _unmet(say, f"too few hosts for the {common_name} to feed a brood", because)


def no_litter(say: Say, _: Subject, *, common_name: str, because: Reasons) -> str:
    """Say that a butterfly finds no fallen leaves to winter in."""
    return _unmet(say, f"no litter for the {common_name} to winter in", because)


def no_stems_for(say: Say, _: Subject, *, common_name: str, because: Reasons) -> str:
    """Say that a butterfly finds no stems to winter on."""
    return _unmet(say, f"no stems for the {common_name} to winter on", because)


def no_bark(say: Say, _: Subject, *, common_name: str, because: Reasons) -> str:
    """Say that a butterfly finds no bark to winter in."""
    return _unmet(say, f"no bark for the {common_name} to winter in", because)


def no_nectar(say: Say, _: Subject, *, month: int, because: Reasons) -> str:
    """Say that nothing blooms in a month of the season."""
    return _unmet(say, f"no nectar in {MONTHS[month - 1]}", because)


def no_night_nectar(say: Say, _: Subject, *, month: int, because: Reasons) -> str:
    """Say that nothing blooms at night in a month of the season."""
    return _unmet(say, f"no nectar at night in {MONTHS[month - 1]}", because)


def no_stems(say: Say, _: Subject, *, because: Reasons) -> str:
    """Say that no stems stand over winter."""
    return _unmet(say, "no stems to winter on", because)


def few_in_season(_say: Say, _: Subject, *, season: str, kinds: int, wanted: int) -> str:
    """Say that few kinds bloom in a season."""
    number = {0: "no nectar species", 1: "only 1 nectar species"}.get(kinds, f"only {kinds} nectar species")
    return f"{number} in {season}, {wanted} wanted"


def shaded_out(say: Say, _: Subject, *, common_name: str, because: Reasons) -> str:
    """Say that a plant chosen at first is kept out of a place for the shade to come."""
    return _unmet(say, f"no {common_name} in one place that it would suit today", because)


def shaded_later(say: Say, _: Subject, *, common_name: str, because: Reasons) -> str:
    """Say that a plant stands where shade will come."""
    told = _unmet(say, f"no lasting light for the {common_name}", because)
    return f"{told} (the study allows it)" if because else told


def unfit_as_drawn(_say: Say, _: Subject, *, common_name: str, fit: float) -> str:
    """Say that a plant chosen at first was given up, since its very places do not suit it."""
    return f"no {common_name}: the very places that were left for it do not suit it (fit {fit:.2f} of 1)"


# Reasons ---------------------------------------------------------------------------------------------------


def shade_to_come(_say: Say, _: Subject, *, fit_before: str, fit_after: str) -> str:
    """Say by how much the plan's own trees take from a plant."""
    return f"the trees and tall shrubs of the plan will shade it there, from {fit_before} to {fit_after}"


def no_host_allowed(_say: Say, _: Subject) -> str:
    """Say that the plants allowed hold no host."""
    return "no host of it is among the plants allowed"


def none_blooms(_say: Say, _: Subject) -> str:
    """Say that the plants allowed do not bloom then."""
    return "nothing among the plants allowed blooms then"


def none_gives(_say: Say, _: Subject) -> str:
    """Say that the plants allowed do not have it."""
    return "no plant allowed gives any"


def nothing_planned(_say: Say, _: Subject) -> str:
    """Say that the yard gets no plant."""
    return "nothing is planned here"


def others_too_young(_say: Say, _: Subject, *, year: int) -> str:
    """Say that further hosts are too young in the plan year."""
    return f"others carry no brood by plan year {year}"


def brood_too_dear(_say: Say, _: Subject, *, cost: float, budget: float, currency: str) -> str:
    """Say that hosts enough for a brood cost more than there is."""
    return f"enough for a brood costs at least {money(cost, currency)}, and {money(budget)} is there"


def clump_too_dear(_say: Say, _: Subject, *, cost: float, budget: float, currency: str) -> str:
    """Say that the least that can be planted costs more than there is."""
    return f"the cheapest clump costs {money(cost, currency)}, and {money(budget)} is there"


def no_room_for_brood(_say: Say, _: Subject) -> str:
    """Say that hosts enough for a brood find no room."""
    return "there is no room for enough hosts to feed a brood"


def others_worth_more(_say: Say, _: Subject) -> str:
    """Say that other plants were worth more."""
    return "money and room went to the others"


def kinds_kept_out(
    say: Say, _: Subject, *, kinds: tuple[tuple[int, Remark], ...], most_sun_h: float | None
) -> str:
    """Say what keeps kinds of plants out, the most kinds first."""
    told = sorted((-count, say(reason), reason.kind) for count, reason in kinds)
    whole = sum(count for count, _ in kinds)
    words = []
    for less, reason, kind in told:
        at = (
            ""
            if kind != "ground_does_not_fit" or most_sun_h is None
            else f" (at most {most_sun_h:.1f} h of sun)"
        )
        many = f"for {-less} of {whole} kinds, " if len(kinds) > 1 else ""
        words.append(f"{many}{reason}{at}")
    return "; ".join(words)


# What keeps a plant out of a yard --------------------------------------------------------------------------


def poison_for_household(_say: Say, about: Subject, *, wants_none: bool) -> str:
    """Say that a plant would harm who lives here."""
    who = " and ".join(name for name in about.household if name != "poisonous")
    if wants_none:
        return "poisonous in some way, and the household wants no such plant"
    return f"among the most poisonous plants, and {who or 'children or pets'} live here"


def no_calm_bed(_say: Say, _: Subject) -> str:
    """Say that no bed lies far enough from where people walk."""
    return "poisonous in some way, and no bed with room lies away from paths"


def hazard_not_wanted(_say: Say, _: Subject, *, hazard: str) -> str:
    """Say that the study wants no such plant."""
    return f"{hazard}, and the study keeps it out"


def no_edge_holds(_say: Say, _: Subject) -> str:
    """Say that a plant spreads, and nothing around a bed holds it."""
    return "it spreads, and no bed with room has an edge that holds it"


def growth_not_wanted(_say: Say, subject: Subject) -> str:
    """Say that the household wants no plants that grow like this."""
    (wish,) = subject.household
    return f"no new {wish.removeprefix('no_')} are wanted here"


def flower_disliked(_say: Say, _: Subject, *, color: str) -> str:
    """Say that the household does not want to see a colour."""
    return f"no {color} flowers are wanted here"


def in_enough_yards(_say: Say, _: Subject) -> str:
    """Say that a kind stands in as many yards as the group wants."""
    return "it stands in as many yards already as the group wants of one kind"


def too_tall(say: Say, _: Subject, *, height_m: float, allowed_m: float) -> str:
    """Say that a plant grows taller than somebody allows."""
    return f"grows to {say.units.given(height_m)}, taller than the {say.units.given(allowed_m)} allowed"


def host_in_spray(_say: Say, _: Subject) -> str:
    """Say that caterpillars would be poisoned."""
    return "caterpillars eat it, and the yard is sprayed"


def no_room_for_bed(_say: Say, _: Subject) -> str:
    """Say that the yard has room for no bed."""
    return "there is no room for a bed"


def no_room_for_it(_say: Say, _: Subject) -> str:
    """Say that a plant finds no room."""
    return "there is no room for it"


def trees_were_first(_say: Say, _: Subject) -> str:
    """Say that what is tall was chosen before."""
    return "trees and tall shrubs were chosen before the rest"


def shaded_by_plan(_say: Say, _: Subject) -> str:
    """Say that the plan's own trees take the light."""
    return "the trees and tall shrubs of the plan will shade it"


def ground_does_not_fit(_say: Say, _: Subject) -> str:
    """Say that what the ground offers does not suit."""
    return "sun or soil here do not fit it"


def no_room_for_enough(_say: Say, _: Subject) -> str:
    """Say that a clump finds no room."""
    return "no bed has room for enough of them"


def must_stay_low(_say: Say, _: Subject) -> str:
    """Say that the ground allows low plants only."""
    return "plants must stay low here"


def closed_to_hosts(_say: Say, _: Subject) -> str:
    """Say that hosts may not stand where there is room."""
    return "no caterpillar host may stand where there is room"

"""What the corridor found out, in English: for a meeting, at a door, and what is told beside."""

from __future__ import annotations

from habitat.remarks import Subject
from habitat.report.words.figures import count_words
from habitat.report.words.numbers import rounded
from habitat.report.words.say import Say

Range = tuple[float, float, float]
"""A figure at median, low and high reach."""

# For a meeting: no more digits than the range of the reach supports, no yard named --------------------------


def corridor_without_ground(_say: Say, _: Subject) -> str:
    """Say that there is nothing to join."""
    return "No yard has breeding ground for any of these butterflies, standing or planned."


def corridor_broods(_say: Say, _: Subject, *, broods: tuple[int, ...], members: int, asked: int) -> str:
    """Say how many broods the plants of yards feed, today and with plans."""
    today, planned, *more = broods
    who = "the one yard taking part" if members == 1 else f"the {members:,} yards taking part"
    then = f", and {more[0]:,} once {_those_to_ask(asked)} joined too" if more else ""
    now = f"food for {_brood_words(today)} a year" if today else "no food for a whole brood"
    return (
        f"In yards there is {now} today, all butterflies together; with the plans of {who} there is food for "
        f"{planned:,}{then}. Habitat that is there already comes on top, uncounted."
    )


def _brood_words(count: int) -> str:
    return "1 brood" if count == 1 else f"{count:,} broods"


def _those_to_ask(asked: int) -> str:
    return "the yard to ask next has" if asked == 1 else f"the {asked} yards to ask next have"


def corridor_areas(say: Say, _: Subject, *, areas_m2: tuple[Range, ...], asked: int) -> str:
    """Say how large single breeding places would be worth as much, all butterflies together.

    The reach moves all states alike, so they are told to three figures beside each other, the range once.
    """
    told = [
        say.units.ground(f"{float(f'{area[0]:.3g}'):,.{0 if area[0] >= 100 else 1}f}") for area in areas_m2
    ]
    then = f", and {told[2]} once {_those_to_ask(asked)} joined too" if len(told) > 2 else ""
    low, high = rounded(areas_m2[1][0], min(areas_m2[1]), max(areas_m2[1]))[1:]
    spread = f" (with them {say.units.ground(low, high)}, by how far butterflies move)" if low != high else ""
    return (
        "Breeding ground that is linked works like single places of so much, each butterfly counted by "
        f"itself: {told[0]} today, {told[1]} with the members' plans{then}{spread}."
    )


def _ground(say: Say, area_m2: float) -> str:
    """Return an area without digits that no habitat is known to."""
    return say.units.ground(rounded(area_m2, area_m2, area_m2)[0])


def corridor_colonised(_say: Say, _: Subject, *, females: tuple[float, ...], asked: int) -> str:
    """Say how many females find an empty yard a year, and what that takes for granted."""
    told = [count_words(f) for f in females]
    then = f", {told[2]} once {_those_to_ask(asked)} joined" if len(told) > 2 else ""
    return (
        f"Females that come to an empty yard a year, about: {told[0]} today, {told[1]} with the members' "
        f"plans{then}, all butterflies together. This takes one of each brood to leave, straight in a "
        "direction at random, as far as the tables say: good for comparing, not for counting."
    )


def invitations_best(_say: Say, _: Subject, *, yards: int, more_share: float | None) -> str:
    """Say how much better any other choice of yards could be."""
    these = "this yard" if yards == 1 else f"these {yards} yards"
    if more_share is None:
        return f"No other choice within the limits brings more than {these} to ask next."
    more = f"{100 * more_share:.0f} %" if more_share >= 0.005 else "1 %"
    return (
        f"No other choice within the limits could bring more than {more} more than {these} to ask next, each "
        "butterfly measured by what all could give it."
    )


def share_of_what_could_be(
    _say: Say, _: Subject, *, shares: tuple[float, ...], asked: int, yards: int
) -> str:
    """Say which share of what could be is reached, by an estimate that moves with nobody's sign-up."""
    today, members, *more = (_percent(s) for s in shares)
    then = f", and {more[0]} once {_those_to_ask(asked)} joined too" if more else ""
    return (
        f"If each of the {yards:,} yards with room for a bed were planted for the same money, linked ground "
        f"would be all that it could be: today it is {today} of that, with the members' plans {members}{then}"
        ". What could be is an estimate, the same whoever signs up."
    )


def _percent(share: float) -> str:
    """Return a share without digits that an estimate does not know."""
    return "less than 1 %" if share < 0.01 else f"about {100.0 * share:.0f} %"


def share_needs_all_plans(_say: Say, _: Subject, *, without: int, yards: int) -> str:
    """Say why no share is given: some yards have no plan."""
    return (
        "No share of what could be is given: it would move with the sign-up sheet. It takes a plan or an "
        f"estimate for every yard, each with the same money, and {without:,} of {yards:,} yards have none."
    )


def share_needs_equal_stakes(_say: Say, _: Subject) -> str:
    """Say why no share is given though every yard has a plan."""
    return (
        "No share of what could be is given: the plans here go by what each household spends and wants, so "
        "that what could be would move with the sign-up sheet."
    )


def corridor_area_if_anchors_hold(say: Say, about: Subject, *, today_m2: float, members_m2: float) -> str:
    """Say what the area would be if butterflies breed in the anchors of which nobody has said."""
    today, members = (_ground(say, a) for a in (today_m2, members_m2))
    return (
        f"Nobody has said for sure which butterflies breed here: {', '.join(about.anchors)}. So none is "
        f"counted there; if all of these do, it is {today} today and {members} with the members' plans."
    )


def anchors_not_joined(_say: Say, about: Subject, *, common_name: str) -> str:
    """Say that nothing leads from one anchor to another."""
    one, two = about.anchors
    return f"For the {common_name} nothing joins {one} and {two} yet."


def chain_between_anchors(
    say: Say, about: Subject, *, common_name: str, steps: int, longest_m: float, by_ground: bool
) -> str:
    """Say how many steps lead from one anchor to another, and how long the longest is."""
    one, two = about.anchors
    told = "one step" if steps == 1 else f"{steps} steps"
    step_m = 10 if longest_m >= 30 else 1
    far = say.units.given(float(round(longest_m / step_m) * step_m)) + (" by ground" if by_ground else "")
    way = f"the way from {one} to {two} takes {told}"
    return f"For the {common_name} {way}; the longest to cross is about {far}."


def distances_by_ground(_say: Say, _: Subject) -> str:
    """Say that distances are not those of a map."""
    return (
        "Distances go by ground: what hinders a butterfly counts for more than its length, so most are "
        "longer than on a map."
    )


def butterfly_without_ground(_say: Say, _: Subject, *, common_name: str) -> str:
    """Say that a butterfly has nowhere to breed."""
    return f"{_first(common_name)}: no breeding ground, standing or planned."


def butterfly_area(
    say: Say,
    _: Subject,
    *,
    common_name: str,
    broods: tuple[int, int] | None,
    groups: tuple[int, int],
    today_m2: Range,
    members_m2: Range,
) -> str:
    """Say what a butterfly has with the members' plans, and how much more than today."""
    plan, low, high = rounded(members_m2[0], min(members_m2), max(members_m2))
    spread = ""
    if low != high:
        spread = f" ({say.units.ground(low, high)}, as nobody knows just how far it goes)"
    pieces = "one group" if groups[1] == 1 else f"{groups[1]} groups with no way between them"
    return (
        f"{_first(common_name)}: with the members' plans {_food(broods)}its breeding places, in {pieces}, "
        f"work like a single one of {say.units.ground(plan)}{spread}, {_more(today_m2, members_m2)}."
    )


def _food(broods: tuple[int, int] | None) -> str:
    """Say how many broods yards feed; nothing where they are not counted."""
    return "" if broods is None else f"yards feed {_brood_words(broods[1])} a year (today {broods[0]:,}); "


def butterfly_town_is_one_garden(
    say: Say,
    _: Subject,
    *,
    common_name: str,
    broods: tuple[int, int] | None,
    habitat_m2: tuple[float, float],
) -> str:
    """Say that a butterfly gets everywhere in town, so that no chain or link is of any use to it."""
    now, then = (say.units.ground(rounded(a, a, a)[0]) for a in habitat_m2)
    return (
        f"{_first(common_name)}: the whole town is one garden to it; food plants and nectar help anywhere. "
        f"With the members' plans {_food(broods)}it has {then} of habitat, today {now}."
    )


def _first(name: str) -> str:
    return name.capitalize() if name[:1].islower() else name


def _more(now: Range, then: Range) -> str:
    """Say how much more than today that is; the reach moves both alike, so this is known more closely."""
    if min(now) <= 0.0:
        return "where there is none today" if max(now) <= 0.0 else "where there is next to none today"
    ratio = [b / a for a, b in zip(now, then, strict=True)]
    if ratio[0] >= 3.0:
        times, low, high = rounded(ratio[0], min(ratio), max(ratio))
        return f"{times} times today's" + (f" ({low} to {high})" if low != high else "")
    more = [100.0 * (r - 1.0) for r in ratio]
    if max(more) < 0.5:
        return "as today"
    if max(more) - min(more) < 2.0:
        return f"{more[0]:.0f} % more than today" if more[0] >= 0.5 else "less than 1 % more than today"
    gain, low, high = rounded(more[0], min(more), max(more))
    return f"{gain} % more than today ({low} to {high} %)"


def planned_as_well_apart(_say: Say, _: Subject) -> str:
    """Say that planning for the corridor brings nothing over planning each yard by itself."""
    return "Planning yard by yard does as well here as planning with the corridor in mind."


def planned_together(_say: Say, _: Subject, *, gain_share: float) -> str:
    """Say what planning for the corridor brings over planning each yard by itself.

    Both are worked out at median reach, so the gain is said with one digit below 10 % and no level beside it.
    """
    gain = 100.0 * gain_share
    text = (
        f"about {gain:.0f} %" if gain >= 1.0 else f"about {gain:.1f} %" if gain >= 0.05 else "less than 0.1 %"
    )
    return f"With the corridor in mind, members' plans link {text} more ground than planned yard by yard."


# At a door: anchors and butterflies by name, never a neighbour ----------------------------------------------


def yard_closes_gap(say: Say, about: Subject, *, common_name: str, gap_m: float) -> str:
    """Say that a yard joins two anchors that nothing joins."""
    one, two = about.anchors
    return f"Your yard closes the gap of {_far(say, gap_m)} between {one} and {two} for the {common_name}"


def yard_adds_second_way(_say: Say, about: Subject, *, common_name: str) -> str:
    """Say that with a yard there are two ways where there was one."""
    one, two = about.anchors
    return (
        f"Your yard adds a second way round between {one} and {two} for the {common_name}, so that no single "
        "yard is needed any more"
    )


def yard_shortens_step(say: Say, about: Subject, *, common_name: str, was_m: float, now_m: float) -> str:
    """Say that the longest step between two anchors gets shorter with a yard."""
    one, two = about.anchors
    return (
        f"Your yard makes the longest step of the {common_name} between {one} and {two} "
        f"{_far(say, now_m)} instead of {_far(say, was_m)}"
    )


def yard_eases_chain(_say: Say, about: Subject, *, common_name: str) -> str:
    """Say that a yard makes the chain between two anchors likelier."""
    one, two = about.anchors
    return f"Your yard makes the way between {one} and {two} easier for the {common_name}"


def yard_joins_groups(say: Say, _: Subject, *, common_name: str, gap_m: float) -> str:
    """Say that a yard joins groups of breeding places."""
    return (
        f"Your yard joins breeding places of the {common_name} that lie {_far(say, gap_m)} apart, with "
        "nothing between"
    )


def yard_brings_first_ground(_say: Say, _: Subject, *, common_name: str) -> str:
    """Say that no yard breeds a butterfly yet."""
    return f"Your yard would be the first here in which the {common_name} can breed"


def yard_brings_large_part(_say: Say, _: Subject, *, common_name: str, ground_share: float) -> str:
    """Say that much of the breeding ground in yards would be in one."""
    return (
        f"Your yard would hold about {_part(ground_share)} of all breeding ground that yards have for the "
        f"{common_name}"
    )


def yard_breeds_already(_say: Say, _: Subject, *, common_name: str) -> str:
    """Say that a butterfly can breed in a yard today."""
    return f"Your yard is one in which the {common_name} can breed already: a few plants more keep it there"


def yard_has_most_room(say: Say, _: Subject, *, common_name: str, m2: float) -> str:
    """Say that no other yard that may be asked has as much room for a butterfly."""
    return (
        f"Your yard has more room for the {common_name} than any other that we could ask, {_ground(say, m2)}"
    )


def yard_serves_most(_say: Say, _: Subject, *, common_name: str, butterflies: int) -> str:
    """Say that no yard serves more butterflies."""
    return (
        f"Your yard has ground for {butterflies} kinds of butterflies at once, the {common_name} among them"
    )


def yard_near_anchor(say: Say, about: Subject, *, common_name: str, away_m: float) -> str:
    """Say how near an anchor a yard lies in which a butterfly breeds."""
    where = f"lies {_far(say, away_m)} from" if away_m >= 5.0 else "adjoins"
    return f"Your yard {where} {about.anchors[0]}, from where the {common_name} can come"


def yard_amid_places(say: Say, _: Subject, *, common_name: str, places: int, within_m: float) -> str:
    """Say how many breeding places lie around a yard."""
    return (
        f"Your yard has {places} breeding places of the {common_name} within {_far(say, within_m)}, which it "
        "ties together"
    )


def yard_adds_ground(say: Say, _: Subject, *, common_name: str, m2: float) -> str:
    """Say how much breeding ground a yard adds."""
    return f"Your yard adds {_ground(say, m2)} of breeding ground for the {common_name}"


def yard_is_stepping_stone(_say: Say, _: Subject, *, common_name: str) -> str:
    """Say that a yard has nectar on the way."""
    return f"Your yard is a stepping stone with nectar for the {common_name}"


def _far(say: Say, metres: float) -> str:
    """Return a distance as people say it, in tens of metres from 30 m on."""
    step = 10 if metres >= 30 else 1
    return say.units.given(float(max(round(metres / step), 1) * step))


def _part(share: float) -> str:
    """Return a share as a plain fraction."""
    fractions = {"half": 1 / 2, "a third": 1 / 3, "a quarter": 1 / 4, "a fifth": 1 / 5, "a sixth": 1 / 6}
    if share > 0.6:
        return f"{10 * round(10 * share):.0f} %"
    return min(fractions, key=lambda words: abs(fractions[words] - share))


# Where it breaks --------------------------------------------------------------------------------------------


def distance_does_not_limit(_say: Say, _: Subject, *, common_name: str) -> str:
    """Say that a butterfly gets across the whole study in one step."""
    return (
        f"For the {common_name} the whole town is one garden: food plants and nectar help anywhere, and "
        "distance does not limit it here."
    )


def capacity_assumes(_say: Say, _: Subject) -> str:
    """Say what the capacity to last takes for granted."""
    return (
        "The capacity to last counts how well breeding places can reseed each other. It takes colonists to "
        "fall off with distance as passage does, bigger places to lose their butterflies less often, weather "
        "to strike each place on its own, and the places to stay as they are for many years. It says by how "
        "much a plan raises the odds, not whether they are good enough: nobody knows that threshold here."
    )


# Told beside ------------------------------------------------------------------------------------------------


def standing_ground_kept(_say: Say, about: Subject, *, yards: int) -> str:
    """Say that what grows already counts together with what is planned beside it."""
    return (
        f"{about.butterflies[0]}: in {yards} yard(s) what grows already lies outside the planned breeding "
        "ground; both count as one patch."
    )


def long_links_left_out(say: Say, about: Subject, *, places: int, longest_m: float) -> str:
    """Say that there are too many places for links of any length."""
    return (
        f"{about.butterflies[0]}: with {places} breeding places, direct links longer than "
        f"{say.units.given(float(f'{longest_m:.0f}'))} are left out; longer ways go from place to place, so "
        "figures at a wider reach are lower limits."
    )


def passing_is_sampled(_say: Say, about: Subject, *, places: int) -> str:
    """Say that what passes through a place is an estimate."""
    return (
        f"{about.butterflies[0]}: passing_m2 is an estimate from a sample of {places} places; "
        "passing_error_m2 is its standard error."
    )


def losses_are_sampled(_say: Say, about: Subject, *, places: int, orders: int, error: float) -> str:
    """Say that what is left after losses is an estimate."""
    return (
        f"{about.butterflies[0]}: what is left after losses is an estimate from a sample of {places} places "
        f"and {orders} random orders; its standard error is at most {error:.1%} of what is there now."
    )


def young_seen_in_anchor(_say: Say, about: Subject) -> str:
    """Say that a butterfly breeds where nobody has named it."""
    return (
        f"Eggs or young of {', '.join(about.butterflies)} were seen in {', '.join(about.anchors)}: counted "
        "as breeding there, though the anchors layer does not name it."
    )


def no_ground_with_all_plans(_say: Say, about: Subject) -> str:
    """Say that a butterfly has no part in the joint score."""
    return (
        f"{about.butterflies[0]}: no breeding ground even with everyone's plan; it is left out of the joint "
        "score."
    )


def small_passages_neglected(_say: Say, about: Subject, *, cut: float, share_at_most: float) -> str:
    """Say by how much an equivalent area may be too low."""
    return (
        f"{about.butterflies[0]}: passages below {cut:g} are neglected; that lowers an equivalent area by at "
        f"most {share_at_most:.2%}."
    )


def land_cover_unknown(_say: Say, _: Subject, *, names: tuple[str, ...]) -> str:
    """Say which names of land cover tell nothing."""
    listed = ", ".join(map(repr, names))
    return f"By ground: land cover {listed} is not known; it counts as unknown ground."


def ground_unknown(_say: Say, _: Subject, *, unknown_share: float) -> str:
    """Say that no layer tells what most of the ground is."""
    return f"By ground: no layer says what {unknown_share:.0%} of the ground is; it counts as unknown ground."


def no_candidates(_say: Say, _: Subject) -> str:
    """Say that nobody can be invited."""
    return "No yard is a candidate, so nobody is listed to invite: set role = candidate in participants."


def candidates_by_rule(_say: Say, _: Subject, *, could: int, planned: int, apart: int) -> str:
    """Say who may be asked by rule, and how many of them got a plan."""
    rest = f"; {apart:,} more lie out of reach, have no open ground or are left out by where" if apart else ""
    most = (
        "each gets a plan"
        if planned == could
        else f"the {planned:,} that by an estimate of habitat and by their place may add most get a plan"
    )
    return f"{could:,} yards that are on no sign-up sheet could be asked: {most}{rest}."


def estimate_error(_say: Say, _: Subject, *, yards: int, rank: float) -> str:
    """Say how well the estimate ordered yards."""
    worth = "well" if rank >= 0.9 else "roughly" if rank >= 0.5 else "poorly"
    return (
        f"The estimate of habitat that says who gets a plan orders yards {worth} like their plans do (rank "
        f"correlation {rank:.2f} over {yards} yards): who was left out by it may be as good."
    )


def invitations_ranked_by(_say: Say, _: Subject, *, rank_by: str, spread: bool) -> str:
    """Say what the list of invitations goes by."""
    per = {"door": "in all", "money": "per money of their plans", "plant": "per plant of their plans"}
    even = ", where to double the linked ground of any butterfly counts the same" if spread else ""
    return f"Yards are listed by what they add {per[rank_by]}{even}."


def invitations_estimated(_say: Say, _: Subject) -> str:
    """Say that gains are not exact."""
    return "Too many breeding places for exact gains: the list of invitations is an estimate."


def firmness_not_tried(_say: Say, _: Subject) -> str:
    """Say that nothing is known of how firm the list is."""
    return "Too many breeding places to try how firm the list of invitations is."


def invitations_by_greedy_search(_say: Say, _: Subject) -> str:
    """Say that nobody was exchanged for another."""
    return "Too many candidates to try exchanges: the invitations are those of the greedy search alone."


def sightings_elsewhere(_say: Say, _: Subject, *, count: int) -> str:
    """Say that sightings lie outside of all yards and anchors."""
    return f"{count} sighting(s) lie in no yard and no anchor; they are not compared."


def sightings_unnamed(_say: Say, _: Subject, *, count: int) -> str:
    """Say that sightings name no known butterfly."""
    return f"{count} sighting(s) name a butterfly that is not in the tables; they are not compared."

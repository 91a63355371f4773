"""What a meeting should hear of a corridor: absolute figures, the weakest place, each butterfly."""

from __future__ import annotations

from typing import Any

from habitat.connectivity.case import Case
from habitat.remarks import Remark, Subject, remark
from habitat.terms import anchor_name

STATES = ("today", "members", "invited")


def summary(
    headline: dict[str, Any], cases: list[Case], breaks: dict[str, dict[str, Any]], roles: dict[str, int]
) -> tuple[Remark, ...]:
    """Return what to say at a meeting, no yard named.

    Parameters
    ----------
    headline
        ``together``, ``share``, ``butterflies`` and ``invitations`` of ``Corridor.headline``.
    cases
        The corridor problem of each butterfly.
    breaks
        As in ``Corridor.breaks``.
    roles
        How many yards there are of each role.

    Returns
    -------
    Broods, area and colonisations first, then the share of what could be, the weakest place, each butterfly.
    """
    together = headline["together"]
    if not cases or together["everyone"]["equivalent_area_m2"] <= 0.0:
        return (remark("corridor_without_ground"),)
    asked = int(headline["invitations"]["asked"])
    found = [*_broods(together, roles.get("member", 0), asked), _areas(together, asked)]
    found += _colonised(together, asked)
    found += _best(headline)
    found.append(_share(headline["share"], asked))
    found += _unknown_anchors(headline["butterflies"], cases) + _weakest(cases, breaks)
    if any(case.terrain is not None for case in cases):
        found.append(remark("distances_by_ground"))
    return (*found, *(_butterfly(headline["butterflies"][c.butterfly], c) for c in cases))


Range = tuple[float, float, float]
"""A figure at median, low and high reach."""


def _at_reaches(entry: dict[str, Any], state: str, key: str) -> Range:
    """Return a figure of a state at median, low and high reach."""
    one, low, high = (float(e[state][key]) for e in (entry, entry["low_reach"], entry["high_reach"]))
    return one, low, high


def _by_state(together: dict[str, Any], key: str, asked: int) -> list[Any]:
    """Return a figure today, with members and, if somebody is to be asked, with those too; [] if unknown."""
    values = [together[s][key] for s in STATES[: 3 if asked else 2]]
    return [] if any(v is None for v in values) else values


def _broods(together: dict[str, Any], members: int, asked: int) -> list[Remark]:
    counts = _by_state(together, "broods", asked)
    if not counts:
        return []
    return [remark("corridor_broods", broods=tuple(counts), members=int(members), asked=asked)]


def _areas(together: dict[str, Any], asked: int) -> Remark:
    states = STATES[: 3 if asked else 2]
    areas = tuple(_at_reaches(together, s, "equivalent_area_m2") for s in states)
    return remark("corridor_areas", areas_m2=areas, asked=asked)


def _colonised(together: dict[str, Any], asked: int) -> list[Remark]:
    """Tell how many females come to an empty yard a year."""
    come = _by_state(together, "colonisations", asked)
    return [remark("corridor_colonised", females=tuple(map(float, come)), asked=asked)] if come else []


def _best(headline: dict[str, Any]) -> list[Remark]:
    """Tell how much better than the invitations listed any others could be."""
    found, now = headline["invitations"], headline["joint_score"]["members"]
    gain = float(found["joint_score"]) - now
    own = found.get("rank_by", "door") != "door" or found.get("spread", False)
    if not found["asked"] or found["estimated"] or own or gain <= 0.0:
        return []
    more = None if found["proven"] else max(float(found["bound"]) - now, gain) / gain - 1.0
    return [remark("invitations_best", yards=int(found["asked"]), more_share=more)]


def _share(share: dict[str, Any], asked: int) -> Remark:
    """Tell which share of what could be is reached, or why none is given."""
    if share["given"]:
        states = STATES[: 3 if asked else 2]
        shares = tuple(float(share[s]) for s in states)
        return remark("share_of_what_could_be", shares=shares, asked=asked, yards=int(share["counted"]))
    without, yards = int(share["without_plan"]), int(share["yards"])
    if without:
        return remark("share_needs_all_plans", without=without, yards=yards)
    return remark("share_needs_equal_stakes")


def _unknown_anchors(entries: dict[str, Any], cases: list[Case]) -> list[Remark]:
    """Tell what the area would be if butterflies breed in the anchors of which nobody has said."""
    names = sorted({anchor_name(p) for c in cases for p in c.spread.place[c.spread.unsure_m2 > 0.0]})
    if not names:
        return []
    then = [
        sum(e.get("if_anchors_hold", e)[s]["equivalent_area_m2"] for e in entries.values())
        for s in ("today", "members")
    ]
    about = Subject(anchors=tuple(names))
    return [
        remark("corridor_area_if_anchors_hold", about, today_m2=float(then[0]), members_m2=float(then[1]))
    ]


def _weakest(cases: list[Case], breaks: dict[str, dict[str, Any]]) -> list[Remark]:
    """Tell where the chain is weakest, for the butterfly whose anchors are least joined."""
    found: list[tuple[tuple[float, str, str, str], Remark]] = []
    for case in cases:
        for pair in breaks.get(case.butterfly, {}).get("pairs", []):
            one, two = anchor_name(pair["from"]), anchor_name(pair["to"])
            about = Subject(anchors=(one, two), butterflies=(case.butterfly,))
            if pair["passage"] <= 0.0:
                finding = remark("anchors_not_joined", about, common_name=case.common_name)
            elif pair["weakest"] is None:
                continue
            else:
                finding = remark(
                    "chain_between_anchors",
                    about,
                    common_name=case.common_name,
                    steps=int(pair["steps"]),
                    longest_m=float(pair["weakest"]["distance_m"]),
                    by_ground=case.terrain is not None,
                )
            found.append(((float(pair["passage"]), case.common_name, one, two), finding))
    return [min(found, key=lambda f: f[0])[1]] if found else []


def _butterfly(entry: dict[str, Any], case: Case) -> Remark:
    about = Subject(butterflies=(case.butterfly,))
    if entry["everyone"]["equivalent_area_m2"] <= 0.0:
        return remark("butterfly_without_ground", about, common_name=case.common_name)
    broods = [entry[s]["broods"] for s in ("today", "members")]
    if case.unlimited["median"]:
        return remark(
            "butterfly_town_is_one_garden",
            about,
            common_name=case.common_name,
            broods=None if None in broods else tuple(broods),
            habitat_m2=tuple(float(entry[s]["habitat_m2"]) for s in ("today", "members")),
        )
    return remark(
        "butterfly_area",
        about,
        common_name=case.common_name,
        broods=None if None in broods else tuple(broods),
        groups=tuple(int(entry[s]["groups"]) for s in ("today", "members")),
        today_m2=_at_reaches(entry, "today", "equivalent_area_m2"),
        members_m2=_at_reaches(entry, "members", "equivalent_area_m2"),
    )

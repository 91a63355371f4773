"""Sentences for a meeting: no more digits than the range of the reach supports, no yard named."""

from __future__ import annotations

import math
from typing import Any

from habitat.connectivity.case import Case
from habitat.terms import anchor_name


def rounded(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return a value and its range as text, in steps that half of the range holds.

    Never in steps finer than a twentieth: no habitat is known more closely (judgement).

    Examples
    --------
    >>> rounded(321.4, 204.0, 518.0)
    ('300', '200', '500')
    >>> rounded(0.6234, 0.601, 0.655)
    ('0.62', '0.60', '0.66')
    """
    width = max(abs(high - low) / 2.0, abs(value) / 20.0) or 1.0
    power = math.floor(math.log10(width))
    step, digits = 10.0**power * (5.0 if width >= 5.0 * 10.0**power else 1.0), max(0, -power)
    texts = [f"{round(v / step) * step:,.{digits}f}" for v in (value, low, high)]
    return texts[0], texts[1], texts[2]


def share(value: float, low: float, high: float) -> str:
    """Return a share in words with its range, in whole per cent, in tens where the range is wider than that.

    What is not quite none or all is not rounded to none or all.

    Examples
    --------
    >>> share(0.6234, 0.55, 0.70)
    '60 % (60 to 70 %)'
    >>> share(0.62, 0.62, 0.62), share(0.998, 0.998, 0.998), share(0.03, 0.01, 0.2)
    ('62 %', 'almost 100 %', 'less than 10 % (0 to 20 %)')
    """
    low, high = min(value, low, high) * 100, max(value, low, high) * 100
    step = share_step(low / 100, high / 100)
    one, two, three = (f"{round(v / step) * step:.0f}" for v in (value * 100, low, high))
    if one == "100" and value < 1.0 - 1e-9:
        one = "almost 100"
    elif one == "0" and value > 0.0:
        one = f"less than {step}"
    return f"{one} % ({two} to {three} %)" if two != three else f"{one} %"


def points(gain: float, low: float, high: float) -> str:
    """Return what joining adds to the joint score, in points of 100, with its range over reach.

    Examples
    --------
    >>> points(0.324, 0.21, 0.46), points(0.31, 0.30, 0.33), points(0.01, 0.0, 0.02)
    ('0.3 points (0.2 to 0.5)', '0.3 points', 'less than 0.1 points')
    """
    low, high = min(gain, low, high), max(gain, low, high)
    one, two, three = (f"{v:.1f}" for v in (gain, low, high))
    if (high - low) / 2.0 >= 0.5:
        one, two, three = rounded(gain, low, high)
    if float(one) == 0.0 and gain > 0.0:
        one = "less than 0.1" if high < 1.0 else "less than 1"
    return f"{one} points" + (f" ({two} to {three})" if float(two) != float(three) and high >= 0.05 else "")


def share_step(low: float, high: float) -> int:
    """Return the step [%] in which a share (0-1) is told: 1, or 10 where its range is 10 or wider."""
    return 10 if high - low >= 0.1 else 1


def sentences(
    headline: dict[str, Any], cases: list[Case], breaks: dict[str, dict[str, Any]], roles: dict[str, int]
) -> tuple[str, ...]:
    """Return what to say at a meeting, the joint score first, then the weakest place, then each butterfly.

    ``roles`` is how many yards there are of each role: it tells what 100 % stands for.
    """
    joint = headline["joint_score"]
    if not cases or joint["everyone"] <= 0.0:
        return ("No yard has breeding ground for any of these butterflies, standing or planned.",)
    said = [_whole(joint, roles.get("member", 0), roles.get("candidate", 0))]
    said += _asking(joint, headline["invitations"]) + _unsure(joint, cases)
    said += _weakest(cases, breaks) + _by_ground(cases)
    return (*said, *(_butterfly(headline["butterflies"][c.butterfly], c) for c in cases))


def _whole(joint: dict[str, Any], members: int, candidates: int) -> str:
    """Say how much is there today and with the members' plans, of what: a share of little is no success."""
    today = _joint(joint, "today")
    if candidates:
        return (
            f"Of what could work as one if everybody asked took part, {today} is there today and "
            f"{_joint(joint, 'members')} with the members' plans."
        )
    yards = "the one yard that takes part plans" if members == 1 else f"the {members} yards taking part plan"
    return (
        f"Of what {yards}, {today} is there today. No other yard is marked as one that could join, so what "
        "the neighbourhood could do is not known, and no share says whether this is enough."
    )


def _unsure(joint: dict[str, Any], cases: list[Case]) -> list[str]:
    """Say what the score would be if butterflies breed in the anchors of which nobody has said."""
    names = sorted({anchor_name(p) for c in cases for p in c.spread.place[c.spread.unsure_m2 > 0.0]})
    if not names:
        return []
    then = joint["if_anchors_hold"]
    now, plan = (share(then[s], then[s], then[s]) for s in ("today", "members"))
    return [
        f"Nobody has said which butterflies breed here: {', '.join(names)}. So none is counted there; if all "
        f"of these do, {now} is there today and {plan} with the members' plans."
    ]


def _joint(joint: dict[str, Any], state: str) -> str:
    return share(joint[state], joint["low_reach"][state], joint["high_reach"][state])


def _weakest(cases: list[Case], breaks: dict[str, dict[str, Any]]) -> list[str]:
    """Say where the chain is weakest, for the butterfly whose anchors are least joined."""
    found: list[tuple[float, str]] = []
    for case in cases:
        for pair in breaks.get(case.butterfly, {}).get("pairs", []):
            one, two = anchor_name(pair["from"]), anchor_name(pair["to"])
            if pair["passage"] <= 0.0:
                text = f"For the {case.common_name} nothing joins {one} and {two} yet"
            elif pair["weakest"] is None:
                continue
            else:
                hops = "one hop" if pair["steps"] == 1 else f"{pair['steps']} hops"
                text = (
                    f"For the {case.common_name} the way from {one} to {two} takes {hops}; "
                    f"the longest to cross is about {_metres(pair['weakest']['distance_m'])}"
                    + ("" if case.terrain is None else " by ground")
                )
            found.append((pair["passage"], text + "."))
    return [min(found)[1]] if found else []


def _by_ground(cases: list[Case]) -> list[str]:
    """Say that distances are not those of a map, if they are not."""
    if all(case.terrain is None for case in cases):
        return []
    return [
        "Distances go by ground: what hinders a butterfly counts for more than its length, so most are "
        "longer than on a map."
    ]


def _asking(joint: dict[str, Any], asked: dict[str, Any]) -> list[str]:
    """Say how far the invitations listed bring the whole, and how much better any others could be."""
    number, reached = int(asked["asked"]), asked["joint_score"]
    if not number or asked["estimated"]:
        return []
    low, high = (
        min(max(reached + joint[r]["members"] - joint["members"], 0.0), 1.0)
        for r in ("low_reach", "high_reach")
    )
    yards = "the yard to ask next joins" if number == 1 else f"the {number} yards to ask next join"
    best = (
        "no other choice within the limits brings more"
        if asked["proven"]
        else f"no other choice within the limits could bring more than {share(*[asked['bound']] * 3)}"
    )
    return [f"If {yards} as well, that rises to {share(reached, low, high)}; {best}."]


def _metres(value: float) -> str:
    step = 10 if value >= 30 else 1
    return f"{round(value / step) * step:.0f} m"


def _butterfly(entry: dict[str, Any], case: Case) -> str:
    name = case.common_name.capitalize() if case.common_name[:1].islower() else case.common_name
    now, then = (
        [e[s]["equivalent_area_m2"] for e in (entry, entry["low_reach"], entry["high_reach"])]
        for s in ("today", "members")
    )
    if entry["everyone"]["equivalent_area_m2"] <= 0.0:
        return f"{name}: no breeding ground, standing or planned."
    plan, low, high = rounded(then[0], min(then), max(then))
    spread = f" ({low} to {high} square metres, as nobody knows just how far it goes)" if low != high else ""
    far = " Distance does not limit it here." if case.unlimited["median"] else ""
    return (
        f"{name}: with the members' plans its breeding places work like a single one of {plan} square metres"
        f"{spread}, {_more(now, then)}.{far}"
    )


def _more(now: list[float], then: list[float]) -> str:
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


def planning_gain(rounds: list[dict[str, float]]) -> tuple[str, ...]:
    """Return in words what planning for the corridor brings over planning each yard by itself.

    Parameters
    ----------
    rounds
        Per round ``round`` and ``joint_score``; the first knows nothing of the corridor.

    Notes
    -----
    Both are worked out at median reach, so the gain is told with one digit below 10 % and no level beside it.

    Examples
    --------
    >>> planning_gain([{"round": 1, "joint_score": 0.5}, {"round": 2, "joint_score": 0.515}])
    ('Planned with the corridor in mind the plans score about 3 % more than planned yard by yard.',)
    """
    if len(rounds) < 2:
        return ()
    alone, best = rounds[0]["joint_score"], max(r["joint_score"] for r in rounds)
    if alone <= 0.0:
        return ()
    if best <= alone:
        return ("Planning yard by yard does as well here as planning with the corridor in mind.",)
    gain = 100.0 * (best / alone - 1.0)
    text = (
        f"about {gain:.0f} %" if gain >= 1.0 else f"about {gain:.1f} %" if gain >= 0.05 else "less than 0.1 %"
    )
    return (f"Planned with the corridor in mind the plans score {text} more than planned yard by yard.",)

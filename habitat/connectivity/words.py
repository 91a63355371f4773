"""Sentences for a meeting: no more digits than the range of the reach supports, no yard named."""

from __future__ import annotations

import math
from typing import Any

from habitat.connectivity.case import Case
from habitat.connectivity.reasons import anchor_name


def rounded(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return a value and its range as text, in steps that half of the range holds.

    Examples
    --------
    >>> rounded(321.4, 204.0, 518.0)
    ('300', '200', '500')
    >>> rounded(0.6234, 0.601, 0.655)
    ('0.62', '0.60', '0.66')
    """
    width = abs(high - low) / 2.0
    if width <= 0.0:
        width = abs(value) / 20.0 or 1.0
    power = math.floor(math.log10(width))
    step, digits = 10.0**power * (5.0 if width >= 5.0 * 10.0**power else 1.0), max(0, -power)
    texts = [f"{round(v / step) * step:,.{digits}f}" for v in (value, low, high)]
    return texts[0], texts[1], texts[2]


def share(value: float, low: float, high: float) -> str:
    """Return a share in words with its range, in whole per cent or coarser.

    Examples
    --------
    >>> share(0.6234, 0.55, 0.70)
    '60 % (60 to 70 %)'
    >>> share(0.62, 0.62, 0.62)
    '62 %'
    """
    low, high = min(value, low, high) * 100, max(value, low, high) * 100
    if high - low < 0.5:
        return f"{value * 100:.0f} %"
    step = 10 if high - low >= 10 else 1
    one, two, three = (f"{round(v / step) * step:.0f}" for v in (value * 100, low, high))
    return f"{one} % ({two} to {three} %)" if two != three else f"{one} %"


def sentences(
    headline: dict[str, Any], cases: list[Case], breaks: dict[str, dict[str, Any]]
) -> tuple[str, ...]:
    """Return what to say at a meeting, the joint score first, then the weakest place, then each butterfly."""
    joint = headline["joint_score"]
    if not cases or joint["everyone"] <= 0.0:
        return ("No yard has breeding ground for any of these butterflies, standing or planned.",)
    said = [
        "Of what could work as one if everybody asked took part, "
        f"{_joint(joint, 'today')} is there today and {_joint(joint, 'members')} with the members' plans."
    ]
    said += _weakest(cases, breaks)
    return (*said, *(_butterfly(headline["butterflies"][c.butterfly], c) for c in cases))


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
                )
            found.append((pair["passage"], text + "."))
    return [min(found)[1]] if found else []


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
    today = rounded(now[0], min(now), max(now))[0]
    plan, low, high = rounded(then[0], min(then), max(then))
    spread = f" ({low} to {high}, as nobody knows just how far it goes)" if low != high else ""
    far = " Distance does not limit it here." if case.unlimited["median"] else ""
    return (
        f"{name}: today its breeding places work like a single one of {today} square metres, with the "
        f"members' plans like one of {plan}{spread}.{far}"
    )


def planning_gain(rounds: list[dict[str, float]]) -> tuple[str, ...]:
    """Return in words what planning for the corridor brings over planning each yard by itself.

    Parameters
    ----------
    rounds
        Per round ``round`` and ``joint_score``; the first knows nothing of the corridor.

    Examples
    --------
    >>> planning_gain([{"round": 1, "joint_score": 0.5}, {"round": 2, "joint_score": 0.515}])[0][:88]
    'Planned with the corridor in mind the plans score 3 % more than planned yard by yard (51'
    """
    if len(rounds) < 2:
        return ()
    alone, best = rounds[0]["joint_score"], max(r["joint_score"] for r in rounds)
    if alone <= 0.0:
        return ()
    if best <= alone:
        return ("Planning yard by yard does as well here as planning with the corridor in mind.",)
    gain = 100.0 * (best / alone - 1.0)
    text = f"{gain:.0f} %" if gain >= 1.0 else f"{gain:.1f} %" if gain >= 0.05 else "less than 0.1 %"
    return (
        f"Planned with the corridor in mind the plans score {text} more than planned yard by yard "
        f"({100 * best:.1f} for {100 * alone:.1f} of 100, on the scale of the first plan).",
    )

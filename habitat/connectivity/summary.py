"""What a meeting should hear of a corridor: the joint score, the weakest place, each butterfly."""

from __future__ import annotations

from typing import Any

from habitat.connectivity.case import Case
from habitat.remarks import Remark, Subject, remark
from habitat.terms import anchor_name


def summary(
    headline: dict[str, Any], cases: list[Case], breaks: dict[str, dict[str, Any]], roles: dict[str, int]
) -> tuple[Remark, ...]:
    """Return what to say at a meeting, no yard named.

    Parameters
    ----------
    headline
        ``butterflies``, ``joint_score`` and ``invitations`` of ``Corridor.headline``.
    cases
        The corridor problem of each butterfly.
    breaks
        As in ``Corridor.breaks``.
    roles
        How many yards there are of each role: it tells what 100 % stands for.

    Returns
    -------
    The joint score first, then the weakest place, then each butterfly.
    """
    joint = headline["joint_score"]
    if not cases or joint["everyone"] <= 0.0:
        return (remark("corridor_without_ground"),)
    found = [_whole(joint, roles.get("member", 0), roles.get("candidate", 0))]
    found += _invitations(joint, headline["invitations"]) + _unknown_anchors(joint, cases)
    found += _weakest(cases, breaks)
    if any(case.terrain is not None for case in cases):
        found.append(remark("distances_by_ground"))
    return (*found, *(_butterfly(headline["butterflies"][c.butterfly], c) for c in cases))


Range = tuple[float, float, float]
"""A figure at median, low and high reach."""


def _at_reaches(entry: dict[str, Any], state: str, key: str | None = None) -> Range:
    """Return a figure of a state at median, low and high reach."""
    found = [e[state] for e in (entry, entry["low_reach"], entry["high_reach"])]
    one, low, high = (float(f if key is None else f[key]) for f in found)
    return one, low, high


def _whole(joint: dict[str, Any], members: int, candidates: int) -> Remark:
    """Tell how much is there today and with the members' plans, of what: a share of little is no success."""
    today = _at_reaches(joint, "today")
    if candidates:
        return remark("corridor_share_of_all", today=today, members=_at_reaches(joint, "members"))
    return remark("corridor_share_of_members", today=today, yards=int(members))


def _invitations(joint: dict[str, Any], invitations: dict[str, Any]) -> list[Remark]:
    """Tell how far the invitations listed bring the whole, and how much better any others could be."""
    reached = float(invitations["joint_score"])
    if not int(invitations["asked"]) or invitations["estimated"]:
        return []
    low, high = (
        min(max(reached + joint[r]["members"] - joint["members"], 0.0), 1.0)
        for r in ("low_reach", "high_reach")
    )
    return [
        remark(
            "corridor_share_if_invited_join",
            yards=int(invitations["asked"]),
            reached=(reached, float(low), float(high)),
            bound=None if invitations["proven"] else float(invitations["bound"]),
        )
    ]


def _unknown_anchors(joint: dict[str, Any], cases: list[Case]) -> list[Remark]:
    """Tell what the score would be if butterflies breed in the anchors of which nobody has said."""
    names = sorted({anchor_name(p) for c in cases for p in c.spread.place[c.spread.unsure_m2 > 0.0]})
    if not names:
        return []
    then = joint["if_anchors_hold"]
    about = Subject(anchors=tuple(names))
    return [
        remark(
            "corridor_share_if_anchors_hold",
            about,
            today=float(then["today"]),
            members=float(then["members"]),
        )
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
    return remark(
        "butterfly_area",
        about,
        common_name=case.common_name,
        today_m2=_at_reaches(entry, "today", "equivalent_area_m2"),
        members_m2=_at_reaches(entry, "members", "equivalent_area_m2"),
        unlimited=bool(case.unlimited["median"]),
    )

"""Trying candidates beside what is there: exact gains of those that may be best, limits for the rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from habitat.connectivity.growing import Growing, Stage

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
AT_ONCE = 16
"""Candidates that are tried anew together before the best is looked for again."""
SLACK = 1e-9
"""Share by which a limit counts as higher than it is, so that rounding never hides a candidate."""


class Joint:
    """The joint score over butterflies while candidates join."""

    def __init__(self, stages: list[Stage], room: int) -> None:
        self.parts = [Growing(s, room) for s in stages]
        self.weights = joint_weights(stages)

    def copy(self) -> Joint:
        """Return an independent copy."""
        other = object.__new__(Joint)
        other.parts, other.weights = [p.copy() for p in self.parts], self.weights
        return other

    @property
    def areas_m2(self) -> Floats:
        """Equivalent connected area by butterfly [m2]."""
        return np.array([p.equivalent_area_m2 for p in self.parts])

    @property
    def score(self) -> float:
        """Joint score."""
        return float(self.weights @ self.areas_m2)

    def join(self, candidate: int) -> None:
        """Let a candidate join."""
        for part in self.parts:
            part.join(candidate)

    def score_gains(self, gains: list[Floats]) -> Floats:
        """Return what gains in the numerators (by butterfly, one per candidate) [m4] add to the score."""
        out = np.zeros(len(gains[0]) if gains else 0)
        for part, gain, w in zip(self.parts, gains, self.weights, strict=True):
            # sqrt(P + g) - sqrt(P) = g / (sqrt(P + g) + sqrt(P)): no digits lost for small g
            both = np.sqrt(np.maximum(part.numerator + gain, 0.0)) + part.equivalent_area_m2
            out += w * gain / np.maximum(both, 1e-300)
        return out


def joint_weights(stages: list[Stage]) -> Floats:
    """Return per butterfly what one m2 of equivalent connected area adds to the joint score."""
    total = sum(s.weight for s in stages if s.whole_m2 > 0.0)
    return np.array(
        [s.weight / s.whole_m2 / total if s.whole_m2 > 0.0 and total > 0 else 0.0 for s in stages]
    )


class Trials:
    """What each candidate adds to a joint score, tried anew only where it may be the best (exact).

    gains : by butterfly (candidates,) an upper limit of what each adds to the numerator [m4]. exact :
    (candidates,) whether that is what it adds.
    """

    def __init__(self, joint: Joint, candidates: int) -> None:
        self.joint = joint
        every = np.arange(candidates)
        self.there = [np.flatnonzero(p.stage.node[every] >= 0) for p in joint.parts]
        self.rows = [np.zeros((len(c), len(p.area))) for c, p in zip(self.there, joint.parts, strict=True)]
        self.gains = [np.zeros(candidates) for _ in joint.parts]
        self.exact = np.zeros(candidates, np.bool_)
        self._try(every)

    def copy(self) -> Trials:
        """Return an independent copy."""
        other = object.__new__(Trials)
        other.joint, other.there, other.exact = self.joint.copy(), self.there, self.exact.copy()
        other.rows, other.gains = [r.copy() for r in self.rows], [g.copy() for g in self.gains]
        return other

    def join(self, candidate: int) -> None:
        """Let a candidate join; raise the limits of the others to what that can have made of them."""
        self.joint.join(candidate)
        for part, there, rows, gains in zip(self.joint.parts, self.there, self.rows, self.gains, strict=True):
            if part.stage.node[candidate] >= 0 and len(there):
                limits, exact = gains[there], self.exact[there]
                part.raise_limits(there, rows, limits, exact)
                gains[there], self.exact[there] = limits, exact

    def best(self, able: Flags, costs: Floats | None = None, above: float = -np.inf) -> tuple[int, float]:
        """Return the candidate that adds most to the joint score, or most per cost, and how much.

        Parameters
        ----------
        able
            (candidates,) who may join; the first of equals counts.
        costs
            (candidates,) what the gain is divided by.
        above
            Nothing at or below this is looked for; (-1, ``above``) if nobody is above it.
        """
        while True:
            worth = self._worth(costs)
            known = np.where(able & self.exact, worth, -np.inf)
            first = int(np.argmax(known)) if len(known) else -1
            least = max(above, float(known[first])) if first >= 0 else above
            open_ = np.flatnonzero(able & ~self.exact & (worth + SLACK * np.abs(worth) >= least))
            if not len(open_):
                return (first, float(known[first])) if first >= 0 and known[first] > above else (-1, above)
            self._try(open_[np.argsort(-worth[open_], kind="stable")[:AT_ONCE]])

    def _worth(self, costs: Floats | None) -> Floats:
        gains = self.joint.score_gains(self.gains)
        return gains if costs is None else gains / costs

    def _try(self, candidates: Ints) -> None:
        for part, there, rows, gains in zip(self.joint.parts, self.there, self.rows, self.gains, strict=True):
            among = np.flatnonzero(np.isin(there, candidates))
            fresh = np.zeros((len(among), rows.shape[1]))
            gains[there[among]] = part.gains(there[among], fresh)
            rows[among] = fresh
        self.exact[candidates] = True

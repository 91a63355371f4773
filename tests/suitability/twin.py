"""The slow, obvious twin of the compiled pass, in plain numpy and doubles."""

import numpy as np

from habitat.factors import FACTORS

NEEDS = FACTORS.names


def unclipped(x, ranges):
    """Return the trapezium without its floor at 0; a side without a ramp is a wall."""
    low, opt_low, opt_high, high = ranges
    out = np.ones_like(x, float)
    if np.isnan([opt_low, opt_high]).any():
        return out
    if np.isfinite(opt_low):
        ramp = opt_low - low
        out = np.minimum(out, 1 + (x - opt_low) / ramp if ramp else np.where(x < opt_low, -np.inf, 1))
    if np.isfinite(opt_high):
        ramp = high - opt_high
        out = np.minimum(out, 1 + (opt_high - x) / ramp if ramp else np.where(x > opt_high, -np.inf, 1))
    return out


def slow_scores(needs, plant, values):
    """Return (low, high, limiting) of one plant, need by need."""
    p = needs.plants.index(plant)
    shape = next(iter(values.values())).shape
    rows = []
    for f, name in enumerate(needs.assessed):
        x = values[name].astype(float)
        m = unclipped(np.nan_to_num(x), needs.tables["ranges"][p, NEEDS.index(name)])
        hole = np.isnan(x)
        rows.append(
            (
                np.where(hole, needs.tables["worst"][p, f], m),
                np.where(hole, needs.tables["best"][p, f], m),
            )
        )
    low, high = (np.array([r[k] for r in rows]) for k in (0, 1))
    first = low.argmin(axis=0)
    limiting = np.array([NEEDS.index(n) for n in needs.assessed])[first]
    limiting = np.where(low.min(axis=0) >= 1, 255, limiting)
    weights = needs.tables["weights"].astype(float)
    ends = (combine(needs.combine, np.clip(m, 0, 1), weights) for m in (low, high))
    low_score, high_score = ends
    return low_score.reshape(shape), np.maximum(low_score, high_score).reshape(shape), limiting


def combine(way, m, weights):
    """Return the combined score of (factors, ...) memberships."""
    least = m.min(axis=0)
    if way == "scarcest":
        return least
    if way == "geometric":
        mean = np.prod(m ** weights.reshape(-1, *[1] * (m.ndim - 1)), axis=0) ** (
            1 / max(weights.sum(), 1e-9)
        )
        return np.where(least <= 0, 0.0, mean)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(least <= 0, 0.0, least * np.sqrt(np.prod(m, axis=0) / np.where(least > 0, least, 1)))

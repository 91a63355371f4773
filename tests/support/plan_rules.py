"""Firm rules of planting over the tables of any plan: each function returns the rows that break one.

Values and their sources are rows of tests/reference/planting_rules.csv.
"""

from __future__ import annotations

import numpy as np
import shapely
from scipy.spatial import cKDTree

from tests.support.demo_beds import forms, greatest_shares
from tests.support.planting_rules import least, most

HERBS = ("forb", "graminoid")
POT_M2 = 1.0
"""In a pot or a box one plant may stand alone."""

WALLS = ((9.0, "tree_wall_30"), (15.0, "tree_wall_50"), (np.inf, "tree_wall_50plus"))
"""Mature height [m], and the rule for trees up to it: 30 ft, 50 ft, more."""


def lone_herbs(plantings, beds):
    """Groups are of 3 or more: extension text; common practice."""
    room = plantings["bed_id"].map(beds.set_index("bed_id")["area_m2"])
    herb = plantings["plant"].map(forms()).isin(HERBS)
    return plantings[herb & (room >= POT_M2) & (plantings["count"] < least("grp_odd"))]


def trees_near_walls(points, buildings):
    trees = points[points["plant"].map(forms()) == "tree"]
    away = _away(trees, buildings)
    need = [least(next(rule for top, rule in WALLS if h <= top)) for h in trees["height_m"]]
    return trees[away < np.array(need) - 0.05]


def trees_near_paving(points, paving):
    trees = points[points["plant"].map(forms()) == "tree"]
    return trees[_away(trees, paving) < least("tree_walk") - 0.05]


def tall_under_wires(points, wires, near_m):
    woody = points[points["plant"].map(forms()).isin(("tree", "shrub"))]
    return woody[(_away(woody, wires) < near_m) & (woody["height_m"] > most("tree_under_wire") + 1e-6)]


def shrubs_near_walls(points, buildings):
    """Half the mature spread, and room to walk behind it or not: the lesser of both accounts."""
    shrubs = points[points["plant"].map(forms()) == "shrub"]
    return shrubs[_away(shrubs, buildings) < 0.5 * shrubs["crown_m"] - 0.05]


def too_close(plantings, points):
    """Plants of one kind stand their spacing apart: count = area / spacing squared, on a triangular grid."""
    spacing, out = plantings.set_index("planting_id")["spacing_m"], []
    for key, rows in points.groupby("planting_id"):
        if len(rows) > 1:
            xy = shapely.get_coordinates(rows.geometry.values)
            gap = cKDTree(xy).query(xy, k=2)[0][:, 1].min()
            out += [key] if gap < spacing[key] - 1e-3 else []
    return out


def one_kind_beds(plantings, beds):
    """No state job sheet lets one kind take over 60 % of a mix; asked of beds of 6 m2 and more."""
    shares = greatest_shares(plantings, beds)
    return shares[shares > 0.6]


def _away(points, shapes):
    if shapes is None or not len(shapes):
        return np.full(len(points), np.inf)
    return shapely.distance(points.geometry.values, shapely.union_all(shapes.geometry.values))


def broken(plantings, points, beds, buildings=None, paving=None, wires=None, wire_m=0.0):
    """Return how many rows break each rule, of those that any do."""
    found = {
        "lone herbs": lone_herbs(plantings, beds),
        "trees near walls": trees_near_walls(points, buildings),
        "trees near paving": trees_near_paving(points, paving),
        "shrubs near walls": shrubs_near_walls(points, buildings),
        "tall under wires": tall_under_wires(points, wires, wire_m),
        "plants too close": too_close(plantings, points),
        "beds of one kind": one_kind_beds(plantings, beds),
    }
    return {rule: len(rows) for rule, rows in found.items() if len(rows)}

"""Breeding ground, links and chains over a neighbourhood, and whom to invite next."""

from habitat.connectivity.case import Terrain
from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.patch_graph import (
    choose_patches,
    equivalent_connected_area,
    likeliest_chain,
    link_passage,
    link_patches,
    patch_importance,
)
from habitat.connectivity.score import score_corridor, weigh_corridor
from habitat.connectivity.types import Corridor, Movement, Neighbourhood, Weighed

__all__ = [
    "Corridor",
    "Movement",
    "Neighbourhood",
    "Reach",
    "Terrain",
    "Weighed",
    "choose_patches",
    "equivalent_connected_area",
    "likeliest_chain",
    "link_passage",
    "link_patches",
    "patch_importance",
    "score_corridor",
    "weigh_corridor",
]

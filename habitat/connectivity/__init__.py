"""Breeding ground, links and chains over a neighbourhood, and whom to invite next."""

from habitat.connectivity.distance.reach import Reach
from habitat.connectivity.patch_graph import (
    choose_patches,
    equivalent_connected_area,
    likeliest_chain,
    link_passage,
    link_patches,
    patch_importance,
)

__all__ = [
    "Reach",
    "choose_patches",
    "equivalent_connected_area",
    "likeliest_chain",
    "link_passage",
    "link_patches",
    "patch_importance",
]

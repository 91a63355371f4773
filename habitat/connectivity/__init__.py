"""Breeding ground, links and chains over a neighbourhood, and whom to invite next."""

from habitat.connectivity.case import Terrain
from habitat.connectivity.score import score_corridor, weigh_corridor
from habitat.connectivity.types import Corridor, Movement, Neighbourhood, Weighed

__all__ = ["Corridor", "Movement", "Neighbourhood", "Terrain", "Weighed", "score_corridor", "weigh_corridor"]

"""Breeding ground, links and chains over a neighbourhood, and whom to invite next."""

from habitat.connectivity.score import score_corridor, weigh_corridor
from habitat.connectivity.types import Corridor, CorridorRequest, Weighed

__all__ = ["Corridor", "CorridorRequest", "Weighed", "score_corridor", "weigh_corridor"]

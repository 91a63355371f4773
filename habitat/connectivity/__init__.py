"""Breeding ground, links and chains over a neighbourhood, and whom to invite next."""

from habitat.connectivity.score import score_corridor
from habitat.connectivity.types import Corridor, CorridorRequest

__all__ = ["Corridor", "CorridorRequest", "score_corridor"]

"""The planting plan: which plants, how many, in which beds, at which points."""

from habitat.planting.plan_yard import plan_yard
from habitat.planting.types import Planting

__all__ = ["Planting", "plan_yard"]

"""What plants need and places offer: every factor once, in ``FACTORS``, which all stages go by."""

from habitat.factors.entries import FACTORS
from habitat.factors.types import Factor, Factors, Wants, at_least, at_most, between, groups, steps

__all__ = ["FACTORS", "Factor", "Factors", "Wants", "at_least", "at_most", "between", "groups", "steps"]

"""What grows where: needs against what the site offers, as a score, a limiting need and a class."""

from habitat.suitability.classes import classify
from habitat.suitability.explain import explain
from habitat.suitability.fit import fit
from habitat.suitability.needs import build_needs, compile_needs
from habitat.suitability.types import Needs

__all__ = ["Needs", "build_needs", "classify", "compile_needs", "explain", "fit"]

"""What grows where: needs against what the site offers, as a score, a limiting need and a class."""

from habitat.suitability.classes import class_words, classify, classify_between
from habitat.suitability.confidence import Confidence, class_confidence, yard_chance
from habitat.suitability.explain import PlaceFit, alternatives, explain
from habitat.suitability.fit import fit, score
from habitat.suitability.maps import ClassError, NormalError, map_errors, not_carried
from habitat.suitability.needs import build_needs, compile_needs
from habitat.suitability.types import NO_LIMIT, Fit, Needs

__all__ = [
    "NO_LIMIT",
    "ClassError",
    "Confidence",
    "Fit",
    "Needs",
    "NormalError",
    "PlaceFit",
    "alternatives",
    "build_needs",
    "class_confidence",
    "class_words",
    "classify",
    "classify_between",
    "compile_needs",
    "explain",
    "fit",
    "map_errors",
    "not_carried",
    "score",
    "yard_chance",
]

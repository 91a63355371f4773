"""What grows where: needs against what the site offers, as a score, a limiting need and a class."""

from habitat.suitability.classes import class_words, classify
from habitat.suitability.fit import fit, score
from habitat.suitability.needs import compile_needs, subset_needs
from habitat.suitability.types import NEEDS, NO_LIMIT, Fit, Needs

__all__ = [
    "NEEDS",
    "NO_LIMIT",
    "Fit",
    "Needs",
    "class_words",
    "classify",
    "compile_needs",
    "fit",
    "score",
    "subset_needs",
]

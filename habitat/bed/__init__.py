"""One bed, pot or box designed from what a person can say of it, by the engine that plans whole yards."""

from habitat.bed.design import BedPlan, design_bed
from habitat.bed.place import Place, find_place
from habitat.bed.words import BedSize, read_size
from habitat.factors.said import read_soil, read_sun, read_wetness

__all__ = [
    "BedPlan",
    "BedSize",
    "Place",
    "design_bed",
    "find_place",
    "read_size",
    "read_soil",
    "read_sun",
    "read_wetness",
]

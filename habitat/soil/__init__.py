"""Soil: texture, reaction, drainage and water, from maps, soil polygons and tests."""

from habitat.soil.texture import texture_class
from habitat.soil.water import soil_water
from habitat.soil.words import reaction_class

__all__ = ["reaction_class", "soil_water", "texture_class"]

"""Soil: texture, reaction, drainage and water, from maps, soil polygons and tests."""

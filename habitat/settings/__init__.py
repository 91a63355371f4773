"""Sections of the study file, each a frozen value: what stages take beside arrays and frames."""

from habitat.settings.connectivity import ConnectivitySettings
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.planting import PlantingSettings
from habitat.settings.site import SiteSettings
from habitat.settings.suitability import SuitabilitySettings

__all__ = [
    "ConnectivitySettings",
    "KnowledgeSettings",
    "PlantingSettings",
    "SiteSettings",
    "SuitabilitySettings",
]

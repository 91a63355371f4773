"""What needs and growth forms are called where people read."""

from __future__ import annotations

NEED_WORDS = {
    "sun_h": "sun",
    "sun_afternoon_h": "afternoon sun",
    "ph": "soil reaction (pH)",
    "drainage": "soil drainage",
    "texture": "soil texture",
    "depth_cm": "depth of soil",
    "available_water_mm": "water that the soil holds",
    "zone": "winter cold",
    "salt": "road salt",
}
"""Needs in words, for sheets and maps."""

FORM_WORDS = {"herb": "flowers and grasses", "shrub": "shrubs and vines", "tree": "trees"}
"""Growth forms in words."""

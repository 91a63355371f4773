"""What growth forms are called where people read."""

from __future__ import annotations

FORM_WORDS = {"herb": "flowers and grasses", "shrub": "shrubs and vines", "tree": "trees"}
"""Growth forms in words."""

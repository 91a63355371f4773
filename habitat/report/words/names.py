"""What growth forms are called where people read."""

from __future__ import annotations

from habitat.terms import CANDIDATE, MEMBER, OTHER

ROLE_WORDS = {
    MEMBER: "takes part",
    CANDIDATE: "might be asked",
    OTHER: "does not take part",
    "block": "block",
}
"""What a yard's role is called; a block stands for yards that are not all shown."""

FORM_WORDS = {"herb": "flowers and grasses", "shrub": "shrubs and vines", "tree": "trees"}
"""Growth forms in words."""
